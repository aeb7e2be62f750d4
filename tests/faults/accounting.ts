import { execFileSync, spawnSync } from 'node:child_process';
import { parse } from 'csv-parse/sync';

/** A general-purpose program for plain-text accounting, as Debian packages it. */
export interface AccountingProgram {
  readonly name: string;
  /** Sums of a journal: by account and commodity, each as the program writes it; what is zero is left out. */
  balances(file: string): Balance[];
}

export interface Balance {
  account: string;
  commodity: string;
  /** Digits with a point as mark. */
  amount: string;
}

const has = (name: string): boolean => spawnSync('which', [name]).status === 0;

/** Whether a program is here; on a Debian machine without it, as root, it is installed first. */
export function isThere(name: string): boolean {
  if (has(name)) return true;
  if (!has('apt-get') || process.getuid?.() !== 0) return false;
  try {
    execFileSync('apt-get', ['update', '-qq'], { stdio: 'ignore' });
    execFileSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', name], { stdio: 'ignore' });
  } catch {
    return false;
  }
  return has(name);
}

/** Runs a program on a journal; what it cannot read makes it fail, and its words are in the error. */
export function ask(name: string, file: string, ...args: string[]): string {
  const { status, stdout, stderr } = spawnSync(name, ['-f', file, ...args], {
    encoding: 'utf8',
    maxBuffer: 1_000_000_000,
    // Without it hledger cannot read letters beyond ASCII.
    env: { ...process.env, LC_ALL: 'C.UTF-8' },
  });
  if (status !== 0) throw new Error(`${name} ${args.join(' ')}: ${stderr}`);
  return stdout;
}

const rowsOf = (csv: string): string[][] => (parse(csv) as string[][]).slice(1);

export const hledger: AccountingProgram = {
  name: 'hledger',
  balances: (file) =>
    rowsOf(ask('hledger', file, 'balance', '--flat', '-N', '-O', 'csv', '--layout', 'bare'))
      .map(([account = '', commodity = '', amount = '']) => ({ account, commodity, amount }))
      .filter(({ amount }) => /[1-9]/.test(amount)),
};

export const ledgerProgram: AccountingProgram = {
  name: 'ledger',
  balances(file) {
    const format = '%(account)\\t%(display_total)\\n';
    const lines = ask('ledger', file, 'balance', '--flat', '--no-total', '--format', format).trimEnd().split('\n');
    let account = '';
    // An account of several commodities has a line for each, and stands before the first of them.
    return lines.map((line) => {
      const [before, after] = line.includes('\t') ? line.split('\t') : [account, line];
      account = before ?? '';
      const [, amount = '', commodity = ''] = /^(-?[\d.]+) (.+)$/.exec(after ?? '') ?? [];
      return { account, amount, commodity: commodity.replace(/^"(.*)"$/, '$1') };
    });
  },
};

export interface Posting {
  code: string;
  account: string;
  amount: string;
}

/** Every posting to accounts that begin so, as hledger reads it, with the code of its transaction. */
export const postings = (file: string, account: string): Posting[] =>
  rowsOf(ask('hledger', file, 'register', '-O', 'csv', `^${account}`)).map((row) => ({
    code: row[2] ?? '',
    account: row[4] ?? '',
    amount: row[5] ?? '',
  }));
