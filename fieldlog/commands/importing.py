"""The command that brings a spreadsheet in: what is open is printed, and nothing is imported until a file of choices settles it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import site_id_of
from fieldlog.imports import kept
from fieldlog.imports.kept import PIECE_BYTES, Upload
from fieldlog.imports.mapping import settled
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.store import Programme
from fieldlog.sync.opening import open_programme

TOLD = 20
"""Rows that are printed; --json has the first 200."""

TOLD_COLUMNS = 8


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option("--kind", help="The kind of record that the rows are, such as unit_check. Without it: guessed from the headers.")
@click.option("--map", "mapping", type=click.Path(path_type=Path, dir_okay=False, exists=True), help="A JSON file that says how the columns are read.")
@click.option("--dry-run", "is_tried_only", is_flag=True, help="Only say what would be imported and what needs fixing.")
@click.option("--site", help="The site's name or id. Not needed if there is only one.")
@click.option("--whole-program", "is_of_all", is_flag=True, help="The rows are of no site, or name their own.")
@folder_option
@json_option
@click.pass_context
@pass_asked
def import_(
    asked: Asked, context: click.Context, file: Path, kind: str | None, mapping: Path | None, is_tried_only: bool, site: str | None, is_of_all: bool
) -> None:  # fmt: skip
    """Import a spreadsheet: CSV, XLSX or GeoJSON.

    Ends with status 1 if something is open or needs fixing. What is open is printed with the lines that a --map file needs.
    """
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    site_id = None if is_of_all else site_id_of(programme.db(), site)
    said = json.loads(mapping.read_text("utf-8")) if mapping else {}
    if not isinstance(said, dict):
        raise click.UsageError(f"{mapping} is not a JSON object. Begin with what a dry run with --json prints as mapping.")
    device = kept.device_of_commands(programme.db(), asked.now_ms())
    upload = kept.begin(programme, device, site_id, file.name, _pieces(file), asked.now_ms())
    try:
        context.exit(_bring(asked, programme, upload, {**said, **({"kind": kind} if kind else {})}, is_tried_only))
    finally:
        if upload.folder.exists() and upload.about["state"] != kept.TAKING:
            kept.drop(upload)


def _pieces(file: Path) -> Iterator[bytes]:
    with file.open("rb") as opened:
        while piece := opened.read(PIECE_BYTES):
            yield piece


def _bring(asked: Asked, programme: Programme, upload: Upload, said: dict[str, Any], is_tried_only: bool) -> int:
    looked = kept.looked(programme.db(), CATALOGUE, upload, said)
    shown = {"kind": looked["kind"], "rows": looked["rows"], "notes": looked["notes"], "mapping": looked["mapping"], "questions": looked["questions"]}
    if looked["questions"] or not looked["kind_is_sure"]:
        asked.show({**shown, "imported": 0}, _open_lines(looked))
        return 1
    result = kept.try_upload(programme, upload)
    lines = [f"Read as {looked['kind']}. {looked['first']['head'] if looked['first'] else ''}".rstrip(), *_how_it_was_read(looked), *_tried_lines(result)]
    taken = 0
    if not is_tried_only and result["good"]:
        kept.begin_taking(upload, asked.now_ms())
        done = kept.take_upload(programme, CATALOGUE, upload, asked.now_ms)
        taken = done.entries
        lines.append(f"Imported: {counted(taken, 'record')}{f', {done.held} of them held back' if done.held else ''}.")
    asked.show({**shown, "result": result, "imported": taken}, lines)
    return 1 if result["to_mend"] else 0


def _open_lines(looked: dict[str, Any]) -> Iterator[str]:
    yield f"Read as {looked['kind']}."
    yield from _how_it_was_read(looked)
    if not looked["kind_is_sure"]:
        yield f"Which kind of record the rows are is not certain. Say it: --kind {looked['kind']}"
    for question in looked["questions"]:
        where = f"{question['column']}: " if question["column"] else ""
        yield f"{where}{question['ask']} {' / '.join(answer['label'] for answer in question['answers'])}".rstrip() + (f" ({question['note']})" if question["note"] else "")
        for answer in question["answers"][:1]:
            yield f"    in --map, for {answer['label']}: {json.dumps(settled({}, answer['sets'][:1]), ensure_ascii=False)}"
        if question["typed"]:
            yield f"    in --map: {json.dumps(settled({}, [{'path': question['path'], 'value': '...'}]), ensure_ascii=False)}"
    yield "Nothing was imported."


def _how_it_was_read(looked: dict[str, Any]) -> Iterator[str]:
    """Which of several sheets it is, and what is told of its cells."""
    others = [name for name in looked["sheets"] if name != looked["sheet"]]
    if others:
        said = json.dumps({"sheet": others[0]}, ensure_ascii=False)
        yield f"This is sheet {looked['sheet']}. The file also has {', '.join(others)}; in --map, for another one: {said}"
    turned = looked["mapping"].get("wide", {}).get("columns", [])
    left_out = [header for header, column in looked["mapping"]["columns"].items() if column.get("field") is None and header not in turned]
    if left_out:
        more = f" and {len(left_out) - TOLD_COLUMNS} more" if len(left_out) > TOLD_COLUMNS else ""
        yield f"Columns left out: {', '.join(left_out[:TOLD_COLUMNS])}{more}."
    yield from looked["notes"]


def _tried_lines(result: dict[str, Any]) -> Iterator[str]:
    yield f"{counted(result['good'], 'row')} good, {result['to_mend']} to fix, {result['already_here']} already here, {result['left_out']} left out."
    for kind, count in result["made"].items():
        yield f"New beside them: {count} {kind}"
    for one in result["remarks"][:TOLD]:
        text = f" “{one['text']}”" if one["text"] else ""
        where = f", {one['column']}{text}" if one["column"] else ""
        yield f"Row {one['row']}{where}: {one['sentence']}"
    if len(result["remarks"]) > TOLD:
        yield f"And {len(result['remarks']) - TOLD} more; --json has them."
