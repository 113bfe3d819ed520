/**
 * A number and its unit, a month and its day stay on one line, whoever made the sentence: a screen, a rule of the
 * server, a person's note.
 */

const UNITS = 'mm|cm|m|km|ft|m\u00b2|g|kg|h|d|s|ms|min|psu|%|\u00b0C|kB|MB|GB';
/** A space between a digit and a unit; a unit ends where no letter or digit follows. */
const PARTED = new RegExp(`(\\d) (?=(?:${UNITS})(?![\\p{L}\\p{N}]))`, 'gu');
/** A space between a month, as days.js writes it, and its day. */
const DAY = /\b(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) (?=\d{1,2}(?!\d))/g;
/** As the first, where a drawing has put the number into a text of its own. */
const BEGINS = new RegExp(`^ (?=(?:${UNITS})(?![\\p{L}\\p{N}]))`, 'u');
/** Text that is a value, not words on a line. */
const VALUES = 'textarea, option, script, style';

/**
 * A text with no-break spaces before its units and days.
 * @param {string} text @param {boolean} isAfterDigit whether a number stands right before it
 */
export const joinedUnits = (text, isAfterDigit = false) =>
  (isAfterDigit ? text.replace(BEGINS, '\u00a0') : text).replace(PARTED, '$1\u00a0').replace(DAY, '$1\u00a0');

/** The text that stands right before one on its line; marks of the drawing lie between. @param {Text} text */
function before(text) {
  let node = text.previousSibling;
  while (node && (node.nodeType === window.Node.COMMENT_NODE || node.nodeValue === '')) node = node.previousSibling;
  return node?.nodeType === window.Node.TEXT_NODE ? /** @type {string} */ (node.nodeValue) : '';
}

/** @param {Node} node */
function join(node) {
  const text = /** @type {Text} */ (node);
  const isAfterDigit = text.data.startsWith(' ') && /\d$/.test(before(text));
  const joined = joinedUnits(text.data, isAfterDigit);
  if (joined !== text.data && !text.parentElement?.closest(VALUES)) text.data = joined;
}

/**
 * Join them in whatever is drawn from now on, before it is painted. The drawing compares with what it drew, not with
 * what stands there, so a text is joined again when it changes.
 * @param {HTMLElement} root
 */
export function keepUnits(root) {
  const observer = new MutationObserver((changes) => {
    for (const { type, target, addedNodes } of changes) {
      if (type === 'characterData') join(target);
      for (const added of addedNodes) {
        const walker = document.createTreeWalker(added, window.NodeFilter.SHOW_TEXT);
        if (added.nodeType === window.Node.TEXT_NODE) join(added);
        for (let node = walker.nextNode(); node; node = walker.nextNode()) join(node);
      }
    }
    observer.takeRecords();
  });
  observer.observe(root, { subtree: true, childList: true, characterData: true });
}
