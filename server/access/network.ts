import { BlockList } from 'node:net';
import { hostname, type NetworkInterfaceInfo, networkInterfaces } from 'node:os';

/**
 * Blocks that no router carries to or from the internet: private networks, link-local, shared and documentation
 * addresses. Source: IANA IPv4 Special-Purpose Address Registry (RFC 6890), "Globally Reachable: False".
 */
const NOT_GLOBAL: readonly [network: string, prefix: number][] = [
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.2.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
];

const home = new BlockList();
for (const [network, prefix] of NOT_GLOBAL) home.addSubnet(network, prefix);

/** Whether an IPv4 address can only be reached from the network it is in, and not from the internet. */
export const isHomeAddress = (address: string): boolean => home.check(address);

/** Interfaces of virtual machines, containers and tunnels: a phone in the house reaches none of them. */
const VIRTUAL = /^(docker|br-|veth|virbr|vmnet|vboxnet|vethernet|tun|tap|utun|wg|zt)/i;

type Interfaces = Readonly<Record<string, readonly NetworkInterfaceInfo[] | undefined>>;

/**
 * The IPv4 addresses of this computer on the home network, the likeliest first: those of virtual machines and tunnels
 * come last. An address that the whole internet could reach is left out.
 */
export function homeAddresses(interfaces: Interfaces = networkInterfaces()): string[] {
  const found = Object.entries(interfaces).flatMap(([name, infos]) =>
    (infos ?? [])
      .filter(({ family, internal, address }) => family === 'IPv4' && !internal && isHomeAddress(address))
      .map(({ address }) => ({ address, isVirtual: VIRTUAL.test(name) })),
  );
  return [...found.filter(({ isVirtual }) => !isVirtual), ...found.filter(({ isVirtual }) => isVirtual)].map(
    ({ address }) => address,
  );
}

/** The names that this computer goes by at home: its own, and the same as its neighbours ask for it (RFC 6762). */
export function homeNames(name: string = hostname()): string[] {
  const own = name.toLowerCase().replace(/\.local$/, '');
  return /^[a-z0-9-]+$/.test(own) ? [own, `${own}.local`] : [];
}
