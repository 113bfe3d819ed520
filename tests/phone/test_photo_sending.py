"""A photo is made smaller, kept as bytes, and sent in parts that may be lost."""

from __future__ import annotations

import base64
import hashlib
import io

import pytest
from PIL import Image

from fieldlog.lost_photos import lost_photos
from fieldlog.sync.photo_tending import note_gone
from tests.sync.lines import REQUIRED

pytestmark = pytest.mark.browser
PART = 512 * 1024
ADD = """
const bytes = Uint8Array.from(atob(told.picture), (letter) => letter.charCodeAt(0));
const { sha256 } = await phone.addPhoto(new Blob([bytes], { type: told.type }), { of_kind: 'visit', of_id: told.of, people: false, shows: 'a block' });
const row = (await phone.rowsOf('photo', { kind: 'visit', id: told.of })).find((one) => one.sha256 === sha256);
return { sha256, row };
"""
OF = "0192f0c4-0000-7000-8000-000000000001"
KEEP = """
const { keepPicture } = await import('/store/photos.js');
const bytes = new Uint8Array(told.size);
for (let start = 0; start < told.size; start += 65536) crypto.getRandomValues(bytes.subarray(start, Math.min(told.size, start + 65536)));
await keepPicture(phone.store, { bytes: bytes.buffer, type: 'image/jpeg' }, phone.now());
await phone.recount();
"""


def picture(width: int, height: int, **saved: object) -> str:
    made = io.BytesIO()
    Image.effect_noise((width // 8, height // 8), 60).resize((width, height)).convert("RGB").save(made, "JPEG", **saved)
    return base64.b64encode(made.getvalue()).decode()


def test_a_large_picture_becomes_one_of_2048_pixels_without_metadata(lead) -> None:
    exif = Image.Exif()
    exif[0x010F] = "A camera"
    told = {"picture": picture(3200, 2400, exif=exif), "type": "image/jpeg", "of": OF}
    made = lead.do(ADD, told)
    assert (made["row"]["width_px"], made["row"]["height_px"], made["row"]["media_type"]) == (2048, 1536, "image/jpeg")
    kept = lead.do("""
      const { pictureOf } = await import('/store/photos.js');
      const bytes = await (await pictureOf(phone.store, told)).arrayBuffer();
      return btoa(Array.from(new Uint8Array(bytes), (byte) => String.fromCharCode(byte)).join(''));
    """, made["sha256"])  # fmt: skip
    bytes_ = base64.b64decode(kept)
    assert hashlib.sha256(bytes_).hexdigest() == made["sha256"]
    assert made["row"]["bytes"] == len(bytes_)
    with Image.open(io.BytesIO(bytes_)) as image:
        assert (image.size, dict(image.getexif())) == ((2048, 1536), {})


def test_a_record_without_its_pictures_name_hides_no_other_picture(lead) -> None:
    """As a line that was written by hand may be: the row is there, its picture is not."""
    told = {"picture": picture(640, 480), "type": "image/jpeg", "of": OF}
    lead.do(ADD, told)
    shown = lead.do("""
      const { Photos } = await import('/views/photo-box.js');
      await phone.write('photo', null, { of_kind: 'visit', of_id: told, taken_at: null });
      const photos = new Photos(phone);
      await photos.read([{ kind: 'visit', id: told }]);
      return photos.list.map(({ url }) => url !== null);
    """, OF)  # fmt: skip
    assert shown == [True, False]


MADE_FIRST = """
const bytes = Uint8Array.from(atob(told.picture), (letter) => letter.charCodeAt(0));
const blob = new Blob([bytes], { type: 'image/jpeg' });
const made = await phone.madePhoto(blob);
const { sha256, asked } = await phone.addPhoto(made, { of_kind: 'visit', of_id: told.of, taken_at: '2026-11-14T11:40:00.000Z', people: false });
const again = await phone.madePhoto(blob);
const { pictureOf } = await import('/store/photos.js');
const kept = await (await pictureOf(phone.store, sha256)).arrayBuffer();
const broken = await phone.madePhoto(new Blob([bytes.slice(0, 300)], { type: 'image/jpeg' }));
return { isSame: sha256 === made.sha256 && sha256 === again.sha256, broken, taken: (await phone.row('photo', asked.recordId)).taken_at,
  kept: btoa(Array.from(new Uint8Array(kept), (byte) => String.fromCharCode(byte)).join('')) };
"""


def test_a_picture_made_before_it_is_kept_is_the_one_that_is_kept_and_has_the_same_name_each_time(lead) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (41.0, 30.0, 0.0), 3: "W", 4: (70.0, 0.0, 0.0)})
    said = lead.do(MADE_FIRST, {"picture": picture(3200, 2400, exif=exif), "of": OF})
    assert (said["isSame"], said["broken"], said["taken"]) == (True, None, "2026-11-14T11:40:00.000Z")
    with Image.open(io.BytesIO(base64.b64decode(said["kept"]))) as image:
        assert (image.size, dict(image.getexif())) == ((2048, 1536), {})


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_picture_is_upright_however_the_camera_was_held(lead, turn: int) -> None:
    """Orientation 5 to 8 swaps the sides (EXIF 2.32, tag 0112); the browser applies it once."""
    exif = Image.Exif()
    exif[0x0112] = turn
    made = lead.do(ADD, {"picture": picture(2560, 1280, exif=exif), "type": "image/jpeg", "of": OF})
    wanted = (2048, 1024) if turn < 5 else (1024, 2048)
    assert (made["row"]["width_px"], made["row"]["height_px"]) == wanted


def test_a_picture_this_browser_cannot_read_is_kept_as_it_came(lead) -> None:
    raw = base64.b64encode(b"\x00\x00\x00\x18ftypheic" + b"x" * 3000).decode()
    made = lead.do(ADD, {"picture": raw, "type": "image/heic", "of": OF})
    assert (made["row"]["bytes"], made["row"]["media_type"]) == (3012, "image/heic")
    assert made["sha256"] == hashlib.sha256(base64.b64decode(raw)).hexdigest()


def test_a_picture_whose_decoding_fails_is_kept_as_it_came_or_its_loss_is_said(lead) -> None:
    """Its header reads well, but the rest does not, or memory is short: no error may end in silence."""
    told = {"picture": picture(320, 240), "type": "image/jpeg", "of": OF}
    lead.do("globalThis.createImageBitmap = async () => { throw new DOMException('no', 'InvalidStateError'); };")
    made = lead.do(ADD, told)
    assert made["sha256"] == hashlib.sha256(base64.b64decode(told["picture"])).hexdigest()
    assert made["row"]["media_type"] == "image/jpeg"
    lead.do("delete HTMLCanvasElement.prototype.getContext; HTMLCanvasElement.prototype.getContext = () => null;")
    assert lead.do(ADD, told)["sha256"] == made["sha256"]
    large = "return tell(() => phone.addPhoto(new Blob([new Uint8Array(9e6)]), { of_kind: 'visit', of_id: told, people: false }));"
    assert lead.do(large, OF).startswith("This picture is larger than 8 MB")
    unread = """
      const file = new Blob(['x'], { type: 'image/jpeg' });
      file.arrayBuffer = async () => { throw new DOMException('gone', 'NotReadableError'); };
      return tell(() => phone.addPhoto(file, { of_kind: 'visit', of_id: told, people: false }));"""
    assert lead.do(unread, OF).startswith("NOT SAVED. This phone gave no access to the picture.")


def test_a_cut_upload_goes_on_where_the_server_is(lead, live_server) -> None:
    lead.do(KEEP, {"size": 1_500_000})
    asked = []

    def cut_second(route) -> None:
        asked.append(int(route.request.headers["upload-offset"]))
        if len(asked) == 2:
            route.abort("connectionreset")
        else:
            route.continue_()

    lead.page.route("**/api/photos/*", cut_second)
    assert lead.sync() is False
    assert lead.do("return phone.counts().photos_waiting;") == 1
    assert lead.sync() is True
    assert asked == [0, PART, PART, 2 * PART]
    assert lead.do("return phone.counts().photos_waiting;") == 0
    (file,) = (path for path in live_server.programme.photos_folder.iterdir() if not path.suffix)
    assert hashlib.sha256(file.read_bytes()).hexdigest() == file.name


def test_a_phone_that_forgot_how_far_it_was_is_told(lead) -> None:
    lead.do(KEEP, {"size": 1_200_000})
    lost = []

    def lose_answers(route) -> None:
        route.fetch()
        lost.append(route.request.headers["upload-offset"])
        route.abort("connectionreset")

    lead.page.route("**/api/photos/*", lose_answers)
    lead.sync()
    lead.page.unroute("**/api/photos/*")
    assert lead.sync() is True
    assert lost == ["0"]
    assert lead.do("return phone.counts().photos_waiting;") == 0


def test_text_goes_first_and_small_photos_before_large_ones(lead) -> None:
    for size in (900_000, 2_000, 300_000):
        lead.do(KEEP, {"size": size})
    lead.write()
    order = []
    lead.page.on("request", lambda asked: order.append(asked.headers.get("upload-length", asked.url[-4:])))
    lead.sync()
    assert order[0] == "sync"
    assert [int(size) for size in order if size.isdigit()][:3] == [2_000, 300_000, 900_000]


def test_a_photo_that_the_server_lost_is_asked_for_and_sent_again_at_the_next_sync(lead, live_server) -> None:
    programme = live_server.programme
    lead.do("await phone.write('site', told.site, told.fields, { siteId: told.site }); await phone.setSite(told.site);",
            {"site": OF, "fields": REQUIRED["site"]})  # fmt: skip
    name = lead.do(ADD, {"picture": picture(320, 240), "type": "image/jpeg", "of": OF})["sha256"]
    lead.do(KEEP, {"size": 2_000})
    assert lead.sync() is True
    assert live_server.app.extensions["photo_copies"].wait()
    came = {file.name: file.read_bytes() for file in programme.photos_folder.iterdir()}
    for file in programme.photos_folder.glob(f"{name}*"):
        file.unlink()
    assert note_gone(programme, int(live_server.now().timestamp() * 1000)) == 1
    sent = []
    lead.page.on("request", lambda request: sent.append(request.url.rsplit("/", 1)[1]) if "/api/photos/" in request.url else None)
    assert lead.sync() is True
    assert live_server.app.extensions["photo_copies"].wait()
    assert ({file.name: file.read_bytes() for file in programme.photos_folder.iterdir()}, sent, waiting(lead)) == (came, [name], 0)
    assert lead.sync() is True
    assert sent == [name], "once"
    assert lost_photos(programme.db()) == set()


def test_a_picture_damaged_on_the_phone_is_never_sent(lead) -> None:
    lead.do(KEEP, {"size": 5_000})
    lead.do("""
      await phone.store.run(['photo_bytes'], 'readwrite', async (tx) => {
        const [key] = await tx.store.getAllKeys();
        await tx.store.put(new ArrayBuffer(5000), key);
      });""")
    asked = []
    lead.page.on("request", lambda request: asked.append(request.url))
    lead.sync()
    assert not any("/api/photos/" in url for url in asked)
    assert lead.do("return [faults, phone.counts().photos_waiting];") == [
        ["A photo was damaged on this phone and is not sent. Take it again."], 0,
    ]  # fmt: skip


def waiting(phone) -> int:
    return phone.do("return phone.counts().photos_waiting;")


@pytest.mark.parametrize(("status", "word"), [(400, "bad-request"), (403, "not-allowed"), (404, "not-here"), (413, "too-large")])
def test_one_photo_that_the_server_does_not_take_stops_no_other_and_stays(lead, status: int, word: str) -> None:
    for size in (2_000, 3_000, 4_000):
        lead.do(KEEP, {"size": size})

    def refuse_the_first(route) -> None:
        if route.request.headers["upload-length"] == "2000":
            route.fulfill(status=status, headers={"X-Fieldlog": "1"}, json={"word": word, "detail": "Not this one."})
        else:
            route.continue_()

    lead.page.route("**/api/photos/*", refuse_the_first)
    assert lead.sync() is True
    assert waiting(lead) == 1
    assert lead.do("return faults;") == ["Not this one."]
    lead.sync()
    assert lead.do("return faults;") == ["Not this one."], "said once"
    lead.page.unroute("**/api/photos/*")
    assert lead.sync() is True
    assert waiting(lead) == 0


def test_a_photo_that_the_server_takes_no_further_is_left_for_later_and_stops_no_other(lead) -> None:
    """A part that has all its bytes and is not finished answered 409 for ever, and the whole queue stood behind it."""
    for size in (2_000, 3_000):
        lead.do(KEEP, {"size": size})
    asked = []

    def stuck(route) -> None:
        if route.request.headers["upload-length"] == "2000":
            asked.append(route.request.headers["upload-offset"])
            route.fulfill(status=409, headers={"X-Fieldlog": "1", "Upload-Offset": "0"}, json={"word": "wrong-offset"})
        else:
            route.continue_()

    lead.page.route("**/api/photos/*", stuck)
    assert lead.sync() is True
    assert len(asked) == 3
    assert waiting(lead) == 1
    lead.page.unroute("**/api/photos/*")
    assert lead.sync() is True
    assert waiting(lead) == 0


def test_a_busy_server_of_0_2_0_is_no_damage_to_a_photo(lead) -> None:
    """It says 409 without how many bytes it has; that counted as an upload that began anew, and four of them as damage."""
    lead.do(KEEP, {"size": 2_000})
    lead.page.route("**/api/photos/*", lambda route: route.fulfill(
        status=409, headers={"X-Fieldlog": "1"}, json={"word": "programme-busy", "detail": "Busy."}))
    for _ in range(5):
        assert lead.sync() is False
    assert waiting(lead) == 1
    lead.page.unroute("**/api/photos/*")
    assert lead.sync() is True
    assert lead.do("return [faults, phone.counts().photos_waiting];") == [[], 0]


def test_a_photo_is_not_let_go_because_the_lane_that_is_written_to_is_still_empty(lead) -> None:
    lead.do(KEEP, {"size": 5_000})
    lead.write()
    lead.sync()
    lead.do("await phone.exportFile();")
    lead.do(KEEP, {"size": 6_000})
    lead.sync()
    let_go = """
      const { letGo } = await import('/store/retention.js');
      await letGo(phone.store, phone.now() + 9 * 86400000);
      return (await phone.store.run(['photo_bytes'], 'readonly', (tx) => tx.store.count()));"""
    assert lead.do(let_go) == 2


def test_photos_leave_the_phone_two_nights_after_a_backup_covers_them(lead) -> None:
    lead.do(KEEP, {"size": 5_000})
    lead.write()
    lead.sync()
    let_go = """
      await phone.store.run(['meta'], 'readwrite', async (tx) => {
        const head = await tx.store.get('head');
        head.lanes[head.lane].durable = told.durable;
        tx.store.put(head, 'head');
      });
      const { letGo } = await import('/store/retention.js');
      await letGo(phone.store, phone.now() + told.days * 86400000);
      return (await phone.store.run(['photo_bytes'], 'readonly', (tx) => tx.store.count()));
    """
    assert lead.do(let_go, {"durable": 0, "days": 9}) == 1
    assert lead.do(let_go, {"durable": 1, "days": 1}) == 1
    assert lead.do(let_go, {"durable": 1, "days": 2}) == 0


def test_a_photo_that_arrives_damaged_four_times_is_sent_no_more_and_another_goes(lead) -> None:
    for size in (2_000, 3_000):
        lead.do(KEEP, {"size": size})
    tries = []

    def spoil(route) -> None:
        if route.request.headers["upload-length"] != "2000":
            route.continue_()
            return
        tries.append(route.request.headers["upload-offset"])
        route.fulfill(status=422, headers={"X-Fieldlog": "1", "Upload-Offset": "0"}, json={"word": "wrong-bytes", "detail": "Other bytes came."})

    lead.page.route("**/api/photos/*", spoil)
    assert lead.sync() is True
    lead.sync()
    assert tries == ["0"] * 4
    assert lead.do("return faults;") == ["A photo arrived damaged several times, so this phone stopped sending it. Take it again."]
    assert waiting(lead) == 0


def test_a_restored_server_is_sent_again_the_photos_that_it_lacks(lead, live_server) -> None:
    """Before, a photo that had its receipt was never offered again, and left the phone as if the server had it."""
    lead.write()
    lead.do(KEEP, {"size": 700_000})
    assert lead.sync() is True
    (file,) = (path for path in live_server.programme.photos_folder.iterdir() if not path.suffix)
    data = file.read_bytes()
    file.unlink()
    db = live_server.programme.db()
    db.execute("DELETE FROM photo_file")
    db.execute("INSERT OR REPLACE INTO setting VALUES ('epoch', '0123456789abcdef0123456789abcdef')")
    assert lead.sync() is True
    assert lead.sync() is True
    assert file.read_bytes() == data
    assert lead.do("return phone.counts().photos_waiting;") == 0
