import { basename } from 'node:path';
import SqliteDatabase from 'better-sqlite3';

// Loaded before the server or a command: it tells on standard error how each ledger was kept, at the moment it is closed.

const close = SqliteDatabase.prototype.close;
SqliteDatabase.prototype.close = function (this: SqliteDatabase.Database) {
  if (this.open && !this.memory) {
    const [journal, synchronous] = ['journal_mode', 'synchronous'].map((name) => this.pragma(name, { simple: true }));
    console.error(`${basename(this.name)} kept by ${journal}, synchronous ${synchronous}`);
  }
  return close.call(this);
};
