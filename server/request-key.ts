/**
 * A new key for a form, so that it posts once however often it is sent. It begins with the time, so that the keys of
 * one day lie together in the ledger and not each on a page of its own.
 */
export const newRequestKey = (): string => `${Date.now().toString(36)}-${globalThis.crypto.randomUUID()}`;
