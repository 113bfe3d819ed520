/** What the server turns down, as it is read on this device. */
import { inDeviceWords } from './marks.js';

/**
 * @param {() => Promise<void>} work what needs the server
 * @returns {Promise<string>} why it was turned down, '' where it was not; what is no refusal is thrown on
 */
export async function refusedBy(work) {
  try {
    await work();
    return '';
  } catch (error) {
    const { sentence } = /** @type {{sentence?: string}} */ (error);
    if (!sentence) throw error;
    return inDeviceWords(sentence);
  }
}
