import type { CDPSession, Page } from 'playwright-core';

/** What came over the wire for a page so far; what the browser had kept costs nothing. */
export interface Wire {
  requests: number;
  bytes: number;
  /** Kind and address of each request. */
  asked: string[];
}

/** Begins to count for a page. The counts go on as long as it is open. */
export async function countWire(page: Page): Promise<Wire> {
  const session: CDPSession = await page.context().newCDPSession(page);
  await session.send('Network.enable');
  const kept = new Set<string>();
  const wire: Wire = { requests: 0, bytes: 0, asked: [] };
  session.on('Network.requestServedFromCache', ({ requestId }) => kept.add(requestId));
  session.on('Network.responseReceived', ({ requestId, response, type }) => {
    if (response.url.startsWith('data:') || kept.has(requestId) || response.fromDiskCache) return;
    wire.requests += 1;
    wire.asked.push(`${type} ${response.url}`);
  });
  session.on('Network.loadingFinished', ({ encodedDataLength }) => {
    wire.bytes += encodedDataLength;
  });
  return wire;
}
