/** What the phone says when it cannot do what was asked. Views show `sentence`. */

export class NotSaved extends Error {
  /** @param {string} sentence @param {unknown} [cause] */
  constructor(sentence, cause) {
    super(sentence, { cause });
    this.name = 'NotSaved';
    this.sentence = sentence;
  }
}

export class Refused extends Error {
  /** @param {string} sentence @param {string} [word] */
  constructor(sentence, word = 'refused') {
    super(sentence);
    this.name = 'Refused';
    this.sentence = sentence;
    this.word = word;
  }
}

export const SENTENCES = {
  full: 'NOT SAVED. This phone has no space left. Free some space (photos, videos, other apps), then save again.',
  storage: 'NOT SAVED. This phone\'s storage does not answer. Close Fieldlog and open it again, then save again.',
  unread: 'This phone\'s storage does not answer. Close Fieldlog and open it again; what was saved is kept.',
  cleared: 'NOT SAVED. The browser cleared what this phone had stored. Load Fieldlog anew, tell your lead, then join again.',
  newer: 'A newer version of Fieldlog is open in another window. Load this one anew before you go on.',
  blocked: 'Another window of Fieldlog holds on to an older version. Close the other windows; this one then goes on.',
  unusable: 'This browser keeps nothing on the phone (a private window, or storage switched off). Open Fieldlog in a normal window, or install it.',
  photosFull: 'NOT SAVED. This phone has no space left for photos. Text is still saved. Sync, so that photos can leave this phone, or free some space.',
  photoLarge: 'This picture is larger than 8 MB and this phone cannot make it smaller. Take it anew at a smaller size.',
  noPicture: 'This file is empty. Take the picture again.',
};

/** For work that nobody waits for: the fault was shown when it arose. @param {unknown} error */
export const wasTold = (error) => { if (!(error instanceof NotSaved)) throw error; };
