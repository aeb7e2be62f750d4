import type { ColumnType, Generated } from 'kysely';

/** A column that is written once and never changed; the database refuses it too. */
export type Once<T> = ColumnType<T, T, never>;
/** Like Once, with a default when it is left out. */
export type OnceOr<T> = ColumnType<T, T | undefined, never>;
export type Id = Generated<number>;
/** 0 or 1; SQLite has no truth values. */
export type Flag = 0 | 1;
export const flag = (value: boolean): Flag => (value ? 1 : 0);
