/**
 * SHA-256 and SHA-1 without waiting: a browser's own digest is asynchronous, and awaiting it would end the transaction
 * that numbers an entry. Lines are a few hundred bytes; photos are hashed by the browser.
 * Source: FIPS 180-4, sections 6.1 and 6.2.
 */

const encoder = new TextEncoder();

/**
 * FIPS 180-4, 4.2.2: the first 32 bits of the fractional parts of the cube roots of the first 64 primes; signed, so
 * that sums stay whole numbers.
 */
const K256 = Int32Array.of(
  0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
  0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
  0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
  0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
  0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
  0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
  0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
  0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
);
/** FIPS 180-4, 5.3.3 and 5.3.1. */
const H256 = [
  0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19,
];
const H1 = [0x67452301, 0xefcdab89, 0x98badcfe, 0x10325476, 0xc3d2e1f0];

/** @param {Uint8Array} bytes @returns {DataView} the message padded to whole blocks of 64 bytes */
function padded(bytes) {
  const size = Math.ceil((bytes.length + 9) / 64) * 64;
  const all = new Uint8Array(size);
  all.set(bytes);
  all[bytes.length] = 0x80;
  const view = new DataView(all.buffer);
  view.setUint32(size - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(size - 4, (bytes.length << 3) >>> 0);
  return view;
}

/** @param {Iterable<number>} words */
const hex = (words) => Array.from(words, (word) => (word >>> 0).toString(16).padStart(8, '0')).join('');

/** @param {string} text @returns {string} 64 hex digits over its UTF-8 */
export function sha256(text) {
  const view = padded(encoder.encode(text));
  const h = Int32Array.from(H256);
  const w = new Int32Array(64);
  for (let start = 0; start < view.byteLength; start += 64) {
    for (let t = 0; t < 64; t++) {
      if (t < 16) { w[t] = view.getInt32(start + 4 * t); continue; }
      const x = w[t - 15];
      const y = w[t - 2];
      const low = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
      const high = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
      w[t] = (w[t - 16] + low + w[t - 7] + high) | 0;
    }
    mix(h, w);
  }
  return hex(h);
}

/** One block into the running value. @param {Int32Array} into @param {Int32Array} w */
function mix(into, w) {
  let [a, b, c, d, e, f, g, h] = into;
  for (let t = 0; t < 64; t++) {
    const s1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
    const firstSum = (h + s1 + ((e & f) ^ (~e & g)) + K256[t] + w[t]) | 0;
    const s0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
    const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + firstSum) | 0, c, b, a, (firstSum + two) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, place) => { into[place] += word; });
}

/** @param {Uint8Array} bytes @returns {string} 40 hex digits */
export function sha1(bytes) {
  const view = padded(bytes);
  const h = Uint32Array.from(H1);
  const w = new Uint32Array(80);
  for (let start = 0; start < view.byteLength; start += 64) {
    for (let t = 0; t < 80; t++) {
      const x = t < 16 ? 0 : w[t - 3] ^ w[t - 8] ^ w[t - 14] ^ w[t - 16];
      w[t] = t < 16 ? view.getUint32(start + 4 * t) : (x << 1) | (x >>> 31);
    }
    let [a, b, c, d, e] = h;
    for (let t = 0; t < 80; t++) {
      const [f, k] = t < 20 ? [(b & c) | (~b & d), 0x5a827999] : t < 40 ? [b ^ c ^ d, 0x6ed9eba1]
        : t < 60 ? [(b & c) | (b & d) | (c & d), 0x8f1bbcdc] : [b ^ c ^ d, 0xca62c1d6];
      const next = (((a << 5) | (a >>> 27)) + f + e + k + w[t]) | 0;
      [e, d, c, b, a] = [d, c, (b << 30) | (b >>> 2), a, next];
    }
    [a, b, c, d, e].forEach((word, place) => { h[place] += word; });
  }
  return hex(h);
}
