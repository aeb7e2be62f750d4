/**
 * The outcome of reading something that a person typed: the value, or one sentence that says what would be right.
 * A refusal is expected and is shown beside the field; a programmer's error throws instead.
 */
export type Read<T> = { ok: true; value: T } | { ok: false; refusal: string };

export const accepted = <T>(value: T): Read<T> => ({ ok: true, value });
export const refused = (refusal: string): Read<never> => ({ ok: false, refusal });
