import { accepted, type Read, refused } from '../units/result.ts';

const ADDRESS = /^(?:(https?):\/\/)?([a-z0-9](?:[a-z0-9.-]*[a-z0-9])?)(?::(\d{1,5}))?\/?$/i;
const LONGEST_ADDRESS = 100;
const LAST_PORT = 65_535;

/**
 * Reads the name or address that a person gives this computer: "garage", "garage.local:4870", "http://garage:4870/".
 * @param port what the address gets when it names none; https goes by its own
 * @returns the beginning of every address there, without a slash at its end: "http://garage:4870"
 */
export function readHomeAddress(text: string, port: number): Read<string> {
  const [, scheme = 'http', name = '', typedPort] = ADDRESS.exec(text.trim()) ?? [];
  if (name === '' || text.length > LONGEST_ADDRESS || !URL.canParse(`http://${name}`)) {
    return refused('Enter a name or address with letters, digits, points and hyphens, like garage or garage.local.');
  }
  if (typedPort !== undefined && (typedPort === '0' || Number.parseInt(typedPort, 10) > LAST_PORT)) {
    return refused(`The number after the colon lies between 1 and ${LAST_PORT}.`);
  }
  const isHttps = scheme.toLowerCase() === 'https';
  const end = typedPort ?? (isHttps ? null : String(port));
  return accepted(`${isHttps ? 'https' : 'http'}://${name.toLowerCase()}${end === null ? '' : `:${end}`}`);
}

/** Whether an address is made of figures, as a router gives them out, and not a name. */
export const isNumeric = (address: string): boolean => /\/\/[\d.]+(:|$)/.test(address);

/** The address that opens the weigh-in for a bin. */
export const weighInAddress = (home: string, code: string): string =>
  `${home}/weigh-in?bin=${encodeURIComponent(code)}`;
