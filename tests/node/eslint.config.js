/** Four rules for the phone's code; the vendored libraries are as they were released. */
const BROWSER = ['window', 'document', 'navigator', 'location', 'localStorage', 'indexedDB', 'caches', 'crypto', 'fetch', 'console', 'performance',
  'setTimeout', 'clearTimeout', 'setInterval', 'clearInterval', 'queueMicrotask', 'requestAnimationFrame', 'matchMedia', 'createImageBitmap',
  'URL', 'Blob', 'Response', 'Request', 'Headers', 'AbortSignal', 'AbortController', 'CompressionStream', 'TextEncoder', 'TextDecoder', 'Intl',
  'DOMException', 'CSS', 'Event', 'EventTarget', 'CustomEvent', 'OffscreenCanvas', 'IDBKeyRange', 'globalThis', 'structuredClone', 'trustedTypes',
  'BroadcastChannel', 'Image', 'MutationObserver', 'HTMLElement', 'File', 'FileReader', 'self', 'clients', 'ReadableStream', 'isSecureContext', 'DOMParser'];

export default [
  {
    files: ['**/*.js'],
    ignores: ['**/vendor/**'],
    languageOptions: { ecmaVersion: 2024, sourceType: 'module', globals: Object.fromEntries(BROWSER.map((name) => [name, 'readonly'])) },
    rules: {
      'no-undef': 'error',
      'no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      'require-atomic-updates': ['error', { allowProperties: true }],
      'no-restricted-imports': ['error', { patterns: [{ regex: '^(https?:|/)', message: 'Imports are relative: everything comes from this origin.' }] }],
    },
  },
  {
    files: ['**/views/*.js'],
    rules: {
      'no-restricted-imports': ['error', { patterns: [{ regex: '/(log|store|sync|vendor/idb[^/]*)/', message: 'A view draws from the phone and never talks to the network or the store itself.' }] }],
    },
  },
];
