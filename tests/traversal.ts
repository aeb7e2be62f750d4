// Addresses that would leave the folder or the table they are asked in, in all the ways a path can be written.

/** Files that a careless server would hand out, from its own folder up to the system's. */
const WANTED = [
  'etc/passwd',
  'windows/win.ini',
  'package.json',
  'data/ledger.sqlite',
  'server/main.ts',
  'tarebook.css',
];

/** One step up, as it is, encoded once and twice, in overlong UTF-8 (RFC 3629, 3), and as other systems write it. */
const UPS = [
  '../',
  '..\\',
  '%2e%2e/',
  '..%2f',
  '%2e%2e%2f',
  '..%5c',
  '%2e%2e%5c',
  '%252e%252e%252f',
  '..%252f',
  '..%255c',
  '%c0%ae%c0%ae/',
  '..%c0%af',
  '..%c1%9c',
  '..%e0%80%af',
  '%uff0e%uff0e/',
  '..%u2215',
  '....//',
  '..././',
  '..;/',
  './.././',
  '..//',
  '.%00./',
  '..%00/',
  '%2e./',
  '.%2e/',
  '\uff0e\uff0e/',
  '..\u2215',
];

const ABSOLUTE = [
  '/etc/passwd',
  '//etc/passwd',
  '%2fetc%2fpasswd',
  '%252fetc%252fpasswd',
  'file:///etc/passwd',
  'file:%2f%2f%2fetc%2fpasswd',
  'C:\\windows\\win.ini',
  'C:/windows/win.ini',
  'C%3a%5cwindows%5cwin.ini',
  '\\\\server\\share\\x',
  '%5c%5cserver%5cshare%5cx',
  '\\\\?\\C:\\windows\\win.ini',
  '/proc/self/environ',
  '/dev/null',
  '~/.profile',
  '$HOME/.profile',
  'CON',
  'NUL.csv',
  'aux.sqlite',
];

const ENDINGS = [
  '1%00',
  '1%00.csv',
  '1\0.jpg',
  'bins%00.csv',
  'bins.csv%00.txt',
  'bins.csv/',
  'bins.csv/..',
  'bins.csv%20',
  'bins.csv.',
  'bins.csv::$DATA',
  'bins.csv~',
  '.bins.csv.swp',
  '.git/config',
  '.env',
  '..',
  '.',
  '...',
  '%',
  '%2',
  '%zz',
  '%ff',
  '*',
  '?',
  '1;ls',
  '1|ls',
  '`ls`',
  "1' or '1'='1",
  '1)--',
  '-1',
  '1e3',
  '0x1',
  '01',
  '1.0',
  ' 1',
  '1 ',
  '\t1',
  '９',
  '9'.repeat(400),
  'a'.repeat(5_000),
  '../'.repeat(1_000),
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
];

/** More than two hundred of them. */
export const TRAVERSALS: readonly string[] = [
  ...UPS.flatMap((up) =>
    WANTED.map((wanted, index) => {
      const depth = index + 1 === WANTED.length ? 1 : 2 + index;
      // In a single part of an address a plain slash would end it.
      return up.repeat(depth) + (up.includes('%2f') ? wanted.replaceAll('/', '%2f') : wanted);
    }),
  ),
  ...ABSOLUTE,
  ...ENDINGS,
];

/**
 * Where the server takes a name or a number in an address, * being its place. New places that serve or take files are
 * added here: they are then asked for all of them, by an ordinary client and over a raw socket.
 */
export const PLACES: readonly string[] = [
  '/*',
  '/static/*',
  '/static/tarebook.css/*',
  '/files/*',
  '/files/*/preview',
  '/files/1/*',
  '/photos/*',
  '/export/*',
  '/export/*.csv',
  '/bins/*',
  '/tickets/*',
  '/items/*',
  '/import?kind=*',
  '/setup/files?file=*',
];

/** What stands in the files that were asked for, and in no answer. */
export const SECRETS: readonly RegExp[] = [
  /root:[^:]*:0:0:/,
  /\[extensions\]|\[fonts\]/i,
  /"optionalDependencies"|"name": "tarebook"/,
  /SQLite format 3/,
  /import \{ noteHomeAddress \}/,
  /PATH=\/|HOME=\//,
];
