import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { createConnection, createServer } from 'node:net';
import { networkInterfaces, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { noteHomeAddress } from '../server/access/acts.ts';
import { homeAddresses, homeNames, isHomeAddress } from '../server/access/network.ts';
import { lastHomeAddresses } from '../server/access/queries.ts';
import { greeting } from '../server/greeting.ts';
import { get, newApp, newLedger, post, setUpWorkedExample } from './helper.ts';
import { readTerminalQr } from './qr.ts';

// The server as it is started, and this machine's own addresses.

const root = fileURLToPath(new URL('..', import.meta.url));
const PASSPHRASE = 'rope lantern gravel tuesday';

describe('addresses', () => {
  test.for([
    ['192.168.1.20', true],
    ['10.1.2.3', true],
    ['172.16.0.1', true],
    ['172.31.255.254', true],
    ['172.32.0.1', false],
    ['100.64.0.9', true],
    ['169.254.3.4', true],
    ['8.8.8.8', false],
    ['192.169.0.1', false],
  ] as const)('%s is of a home network: %s (IANA special-purpose registry)', ([address, isHome]) => {
    expect(isHomeAddress(address)).toBe(isHome);
  });

  test('those of virtual machines come last, loopback and what the internet reaches not at all', () => {
    const info = (address: string, internal = false) =>
      [{ address, internal, family: 'IPv4', netmask: '', mac: '', cidr: null }] as const;
    const found = homeAddresses({
      lo: info('127.0.0.1', true),
      docker0: info('172.17.0.1'),
      wlan0: info('192.168.1.20'),
      ppp0: info('8.8.4.4'),
    });
    expect(found).toEqual(['192.168.1.20', '172.17.0.1']);
  });

  test('a computer goes by its name, with and without .local', () => {
    expect(homeNames('Garage-PC')).toEqual(['garage-pc', 'garage-pc.local']);
    expect(homeNames('garage-pc.local')).toEqual(['garage-pc', 'garage-pc.local']);
    expect(homeNames('odd name')).toEqual([]);
  });

  test('another address is said on the page of the devices until it was read', async () => {
    const ledger = newLedger();
    const app = await newApp(ledger.db);
    expect(noteHomeAddress(ledger, 'http://192.168.1.20:4870')).toBeNull();
    expect(noteHomeAddress(ledger, 'http://192.168.1.20:4870')).toBeNull();
    expect((await get(app, '/')).body).not.toContain('another address');
    expect(noteHomeAddress(ledger, 'http://192.168.1.31:4870')).toBe('http://192.168.1.20:4870');
    setUpWorkedExample(ledger);
    expect((await get(app, '/')).body).toContain('another address on the home network now, http://192.168.1.31:4870/');
    expect(lastHomeAddresses(ledger.db).map(({ is_read }) => is_read)).toEqual([0, 1]);
    expect((await post(app, '/setup/devices/address-read', {})).statusCode).toBe(303);
    expect((await get(app, '/')).body).not.toContain('another address');
    await app.close();
  });
});

test('the greeting has both addresses, and a code that a camera reads as the second', async () => {
  const parts = { ownUrl: 'http://127.0.0.1:4870', homeUrl: 'http://192.168.1.20:4870', isKeptOff: false };
  const said = greeting({ ...parts, hasPassphrase: true, isTerminal: false, missing: null });
  expect(said).toContain('http://127.0.0.1:4870/');
  expect(await readTerminalQr(said)).toBe('http://192.168.1.20:4870/');
  const closed = greeting({ ...parts, hasPassphrase: false, isTerminal: false, missing: null });
  expect(closed).toContain('set a passphrase first, at http://127.0.0.1:4870/setup/devices');
  expect(closed).not.toContain('192.168.1.20');
});

/** An address of this machine that is not loopback where it has one; else one that no page of loopback names. */
const address = homeAddresses()[0] ?? '127.0.0.2';

describe('the server as it is started', () => {
  let folder: string;
  let server: ChildProcess | null = null;
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'tarebook-network-'));
  });
  afterEach(async () => {
    if (server !== null && server.exitCode === null && server.signalCode === null) {
      const ended = new Promise((resolve) => server?.once('exit', resolve));
      server.kill('SIGTERM');
      await ended;
    }
    server = null;
    rmSync(folder, { recursive: true, force: true });
  });

  /** Starts it on a free port. @returns what it said, and its port */
  async function start(environment: Record<string, string>): Promise<{ said: string; port: number }> {
    const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', ...environment };
    const child = spawn(process.execPath, [join(root, 'server/main.ts')], { cwd: folder, env });
    server = child;
    let said = '';
    await new Promise<void>((resolve, reject) => {
      child.stdout.setEncoding('utf8').on('data', (text: string) => {
        said += text;
        if (said.includes('From a phone')) resolve();
      });
      child.stderr.setEncoding('utf8').on('data', (text: string) => reject(new Error(text)));
      child.once('exit', (code) => reject(new Error(`ended with ${code}: ${said}`)));
    });
    return { said, port: Number(/127\.0\.0\.1:(\d+)/.exec(said)?.[1]) };
  }

  const answers = (host: string, port: number): Promise<boolean> =>
    new Promise((resolve) => {
      const socket = createConnection({ host, port, timeout: 3000 });
      const end = (isOpen: boolean) => {
        socket.destroy();
        resolve(isOpen);
      };
      socket
        .once('connect', () => end(true))
        .once('error', () => end(false))
        .once('timeout', () => end(false));
    });

  test('listens on this computer alone until there is a passphrase, then on the network', async () => {
    const { port, said } = await start({});
    expect(said).toContain('set a passphrase first');
    expect(await answers('127.0.0.1', port)).toBe(true);
    expect(await answers(address, port)).toBe(false);
    const setting = {
      env: { ...process.env, TAREBOOK_DATA: folder },
      input: `${PASSPHRASE}\n`,
      encoding: 'utf8',
    } as const;
    const set = spawnSync(process.execPath, [join(root, 'server/commands/passphrase.ts')], setting);
    expect([set.stderr, set.stdout, set.status]).toEqual([
      '',
      'The passphrase is set. Every device asks for it once.\n',
      0,
    ]);
    if (homeAddresses().length === 0) return;
    await expect.poll(() => answers(address, port), { timeout: 10_000 }).toBe(true);
    const page = await fetch(`http://${address}:${port}/`, { redirect: 'manual' });
    expect([page.status, page.headers.get('location')]).toEqual([303, '/sign-in?to=%2F']);
  }, 40_000);

  test('a passphrase from outside opens it at once, on the address it is told; its code leads there', async () => {
    const { port, said } = await start({ TAREBOOK_PASSPHRASE: PASSPHRASE, TAREBOOK_HOST: address });
    expect(said).toContain(`From a phone at home: http://${address}:${port}/`);
    expect(await readTerminalQr(said)).toBe(`http://${address}:${port}/`);
    expect(await (await fetch(`http://${address}:${port}/health`)).json()).toEqual({ ok: true });
  }, 30_000);

  test('told to stay on this computer it stays there, passphrase or not', async () => {
    const { port } = await start({ TAREBOOK_PASSPHRASE: PASSPHRASE, TAREBOOK_HOST: '127.0.0.1' });
    expect(await answers(address, port)).toBe(false);
  }, 30_000);

  test('ends in order while a phone holds a connection open', async () => {
    const { port } = await start({ TAREBOOK_PASSPHRASE: PASSPHRASE, TAREBOOK_HOST: address });
    const socket = createConnection({ host: address, port });
    await new Promise((resolve) => socket.once('connect', resolve));
    socket.on('error', () => undefined);
    const ended = new Promise((resolve) => server?.once('exit', resolve));
    server?.kill('SIGTERM');
    expect(await ended).toBe(0);
    socket.destroy();
  }, 30_000);

  test('an address that another program holds is said, and this computer is answered all the same', async () => {
    const other = createServer().listen(0, address);
    await new Promise((resolve) => other.once('listening', resolve));
    const taken = other.address();
    const port = typeof taken === 'object' && taken !== null ? taken.port : 0;
    const failed = start({ TAREBOOK_PASSPHRASE: PASSPHRASE, TAREBOOK_HOST: address, TAREBOOK_PORT: String(port) });
    await expect(failed).rejects.toThrow(`Tarebook cannot listen at ${address}, port ${port}.`);
    await expect.poll(() => answers('127.0.0.1', port), { timeout: 5000 }).toBe(true);
    await new Promise((resolve) => other.close(resolve));
  }, 30_000);

  test('a passphrase from outside that is too short, or a host that is none, is said', () => {
    const run = (environment: Record<string, string>) => {
      const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', ...environment };
      return spawnSync(process.execPath, [join(root, 'server/main.ts')], { env, encoding: 'utf8' }).stderr;
    };
    expect(run({ TAREBOOK_PASSPHRASE: 'short' })).toContain(
      'TAREBOOK_PASSPHRASE cannot be taken. A passphrase has at least 12',
    );
    expect(run({ TAREBOOK_HOST: 'elsewhere' })).toContain('TAREBOOK_HOST is “elsewhere”');
  }, 30_000);
});

test('this machine’s own addresses are found', () => {
  const own = Object.values(networkInterfaces()).flatMap((each) => each ?? []);
  for (const found of homeAddresses()) expect(own.map((each) => each.address)).toContain(found);
});
