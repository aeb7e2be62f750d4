// Runs a script of Tarebook under its own Node, and installs what is missing first. Plain JavaScript for any Node and
// any system: this file runs under whatever Node the person has, before anything is installed.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = dirname(dirname(fileURLToPath(import.meta.url)));
const inRoot = (...parts) => join(root, ...parts);

function fail(sentence) {
  console.error(sentence);
  process.exit(1);
}

/** npm writes its own list of what it installed; an older one, or none, means that packages are missing. */
function isInstalled() {
  const list = inRoot('node_modules', '.package-lock.json');
  return existsSync(list) && statSync(list).mtimeMs >= statSync(inRoot('package-lock.json')).mtimeMs;
}

function install() {
  console.error('Tarebook installs what it needs; this happens once and takes about a minute.');
  const npm = process.env.npm_execpath;
  // Without install scripts: the database's binaries are inside its package, and nothing needs to be compiled.
  const rest = ['ci', '--ignore-scripts', '--include=dev', '--no-audit', '--no-fund', '--loglevel=error'];
  const [command, args] = npm ? [process.execPath, [npm, ...rest]] : ['npm', rest];
  const result = spawnSync(command, args, {
    cwd: root,
    stdio: ['ignore', 2, 2],
    shell: !npm && process.platform === 'win32',
  });
  if (result.status !== 0) fail('Tarebook could not install what it needs. Is this computer online?');
}

/** The Node that npm installed beside the other packages; where there is none for this system, its own if new enough. */
function findNode() {
  const system = process.platform === 'win32' ? 'win' : process.platform;
  const name = process.platform === 'win32' ? 'node.exe' : 'node';
  const own = inRoot('node_modules', `node-${system}-${process.arch}`, 'bin', name);
  if (existsSync(own)) return own;
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major > 22 || (major === 22 && minor >= 18)) return process.execPath;
  return fail(
    `Tarebook needs Node 22.18 or newer; this computer has ${process.versions.node}. Install a newer Node first.`,
  );
}

if (!isInstalled()) install();
/**
 * What Node made of the source is kept beside the packages, so that the next start does not have to make it again: a
 * quarter of a second less, and thirty megabytes. It goes away with the packages.
 */
const NODE_COMPILE_CACHE = process.env.NODE_COMPILE_CACHE ?? inRoot('node_modules', '.cache', 'compiled');
/**
 * A server at home is asked for a page now and then: better to tidy up more often than to hold on to what is done with.
 * The second figure is no more than a bound that is never met; below half a gigabyte Node lets its heap grow in small steps.
 */
const FLAGS = ['--max-semi-space-size=1', '--max-old-space-size=384'];

const env = { ...process.env, NODE_COMPILE_CACHE };
const flags = process.argv[2] === 'server/main.ts' ? FLAGS : [];
const child = spawn(findNode(), [...flags, ...process.argv.slice(2)], { cwd: root, stdio: 'inherit', env });
for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP']) process.on(signal, () => child.kill(signal));
// npm tells only its shell to end, and the shell does not tell us: when it is gone, the server must not stay behind.
const parent = process.ppid;
setInterval(() => process.ppid === parent || child.kill('SIGTERM'), 300).unref();
child.on('exit', (code, signal) => process.exit(signal ? 1 : (code ?? 1)));
