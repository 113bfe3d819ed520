/** A file leaves the phone: to another app where the browser can share it, else into the downloads. */

/** Browsers share files of few kinds, which they tell by their endings. */
const NAMES = [['fieldlog-export.ndjson', 'application/x-ndjson'], ['fieldlog-export.txt', 'text/plain']];
const KEPT_MS = 10_000;

const SAID = {
  shared: 'File shared. A lead can import it on a laptop.',
  saved: 'File saved. A lead can import it on a laptop.',
  left: 'File not shared. Everything is still here; try again.',
};

/** @param {Blob} blob @returns {Promise<string>} what became of it, as a sentence */
export async function handOver(blob) {
  const file = shareable(blob);
  const became = file ? await shared(file) : null;
  if (became) return SAID[became];
  download(blob);
  return SAID.saved;
}

/** @param {Blob} blob @returns {File|undefined} undefined where this browser shares no such file */
const shareable = (blob) => NAMES.map(([name, type]) => new File([blob], name, { type }))
  .find((file) => 'share' in navigator && navigator.canShare?.({ files: [file] }));

/** @param {File} file @returns {Promise<'shared'|'left'|null>} null where it must go another way */
async function shared(file) {
  try {
    await navigator.share({ files: [file] });
    return 'shared';
  } catch (error) {
    if (!(error instanceof DOMException || error instanceof TypeError)) throw error;
    // The one who chooses changed their mind; anything else (the tap is too long ago, nobody takes it) is no answer.
    return error.name === 'AbortError' ? 'left' : null;
  }
}

/** @param {Blob} blob */
function download(blob) {
  const url = URL.createObjectURL(blob);
  const link = document.createElement('a');
  link.href = url;
  [[link.download]] = NAMES;
  link.click();
  window.setTimeout(() => URL.revokeObjectURL(url), KEPT_MS);
}
