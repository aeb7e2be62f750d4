import Sqlite from 'better-sqlite3';

// The real binding, which says every statement before it runs it, and ends the process just before one of them.
// TRIAL_KILL_AT says which, counted from 1; without it every statement is printed, one JSON text on a line.

const last = Number.parseInt(process.env.TRIAL_KILL_AT ?? '0', 10);
let count = 0;

function beforeStatement(sql: unknown): void {
  count += 1;
  if (last === 0) process.stdout.write(`${JSON.stringify(String(sql))}\n`);
  if (count === last) process.kill(process.pid, 'SIGKILL');
}

export default class Counted extends Sqlite {
  constructor(file: string, options: Sqlite.Options) {
    super(file, { ...options, verbose: beforeStatement });
  }
}
