import { constants } from 'node:zlib';
import compress from '@fastify/compress';
import cookie from '@fastify/cookie';
import formbody from '@fastify/formbody';
import helmet from '@fastify/helmet';
import multipart from '@fastify/multipart';
import Fastify, { type FastifyInstance } from 'fastify';
import { deviceRoutes } from './access/device-routes.ts';
import { Door } from './access/door.ts';
import { guard } from './access/guard.ts';
import { signInRoutes } from './access/sign-in-routes.ts';
import { attachmentRoutes } from './attachments/routes.ts';
import type { Clock } from './clock.ts';
import type { Db } from './db/database.ts';
import { answerErrors } from './errors.ts';
import { fileRoutes } from './files/routes.ts';
import { findRoutes } from './find/routes.ts';
import { trailRoutes } from './history/routes.ts';
import { homeRoutes } from './home/routes.ts';
import { KeptPages } from './kept-pages.ts';
import { binRoutes } from './ledger/bin-routes.ts';
import { inWeightListRoutes } from './ledger/in-weight-routes.ts';
import { weighInRoutes } from './ledger/weigh-in-routes.ts';
import { manifestRoutes } from './manifests/routes.ts';
import { priceRoutes } from './prices/routes.ts';
import { reportRoutes } from './reports/routes.ts';
import { scaleReportRoutes } from './reports/scale-routes.ts';
import { scaleCheckRoutes } from './scales/check-routes.ts';
import { binSetupRoutes } from './setup/bin-routes.ts';
import { containerRoutes } from './setup/container-routes.ts';
import { gradeRoutes } from './setup/grade-routes.ts';
import { setupRoutes } from './setup/routes.ts';
import { scaleRoutes } from './setup/scale-routes.ts';
import { tagRoutes } from './setup/tag-routes.ts';
import { yardRoutes } from './setup/yard-routes.ts';
import { yardScaleRoutes } from './setup/yard-scale-routes.ts';
import { staticRoutes } from './static-routes.ts';
import { ticketEntryRoutes } from './tickets/entry-routes.ts';
import { ticketRoutes } from './tickets/routes.ts';

export interface AppParts {
  db: Db;
  clock: Clock;
  /** Further host names to answer to. */
  hosts?: readonly string[];
  /** True on the demo ledger, which says so on every page. */
  isDemo?: boolean;
  /** Starts the demo ledger apart from this one and gives its address; null where that is not offered. */
  openDemo?: (() => Promise<string>) | null;
  /** The addresses that phones at home reach this server at, such as http://192.168.1.20:4870, the likeliest first. */
  homeUrls?: () => readonly string[];
  /** Looks anew which addresses there are, and listens on them. */
  refreshNetwork?: () => Promise<void>;
}

const BODY_LIMIT_BYTES = 2_000_000;
/** How long a connection may say nothing. */
const SILENCE_MS = 20_000;
/** How long a request may take to arrive: ten photos over a weak signal at the far end of the garage. */
const ARRIVAL_MS = 180_000;

/**
 * Over plain HTTP browsers take gzip only, and at its highest level the largest page costs a millisecond and a half. For
 * this computer itself, which also takes Brotli, 5 of 11 is as small as 6 to a hundredth; 11 would cost 200 ms.
 */
const COMPRESSION = {
  threshold: 1024,
  encodings: ['br', 'gzip'] satisfies ('br' | 'gzip')[],
  zlibOptions: { level: 9 },
  // At once and not as a stream: for a page of a ledger's size that is five times quicker, and nothing is left behind.
  syncThreshold: 256 * 1024,
  // The usual window of four megabytes would be taken for each page; no page of a ledger is that long.
  brotliOptions: { params: { [constants.BROTLI_PARAM_QUALITY]: 5, [constants.BROTLI_PARAM_LGWIN]: 18 } },
};

const CONTENT_SECURITY = {
  'default-src': ["'none'"],
  'script-src': ["'self'"],
  'style-src': ["'self'"],
  'img-src': ["'self'", 'data:'],
  'connect-src': ["'self'"],
  'form-action': ["'self'"],
  'base-uri': ["'none'"],
  'frame-ancestors': ["'none'"],
};

/** Builds the server around one open ledger: everything it answers is registered here, in order. */
export async function buildApp(parts: AppParts): Promise<FastifyInstance> {
  const { db, clock, hosts = [], isDemo = false, openDemo = null } = parts;
  const { homeUrls = () => [], refreshNetwork = async () => undefined } = parts;
  const app = Fastify({
    bodyLimit: BODY_LIMIT_BYTES,
    requestTimeout: ARRIVAL_MS,
    connectionTimeout: SILENCE_MS,
    http: { headersTimeout: SILENCE_MS },
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 200 },
  });
  app.decorate('tarebook', { db, clock, isDemo, openDemo, homeUrls, refreshNetwork, kept: new KeptPages() });
  answerErrors(app);
  // Its own directives would send a phone on the home network to https, which is not there.
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: CONTENT_SECURITY },
    strictTransportSecurity: false,
    // Over plain HTTP browsers ignore these two, and complain on every page.
    crossOriginOpenerPolicy: false,
    originAgentCluster: false,
    // Under no-referrer a browser sends "Origin: null" with its own forms, and the guard could not tell them apart.
    referrerPolicy: { policy: 'same-origin' },
  });
  await app.register(cookie);
  guard(app, hosts);
  await app.register(compress, COMPRESSION);
  // Only what the forms of a page send is read: fields and files.
  app.removeAllContentTypeParsers();
  await app.register(formbody, { bodyLimit: BODY_LIMIT_BYTES });
  // How much a form with files may hold is said by its route; a file that is cut off there is seen to be.
  await app.register(multipart, { throwFileSizeLimit: false });
  await app.register(staticRoutes);

  app.get('/health', async () => ({ ok: true }));
  const door = new Door();
  await app.register(signInRoutes, { door });
  await app.register(deviceRoutes, { door });
  await app.register(homeRoutes);
  await app.register(weighInRoutes);
  await app.register(inWeightListRoutes);
  await app.register(binRoutes);
  await app.register(priceRoutes);
  await app.register(setupRoutes);
  await app.register(gradeRoutes);
  await app.register(binSetupRoutes);
  await app.register(tagRoutes);
  await app.register(containerRoutes);
  await app.register(scaleRoutes);
  await app.register(scaleCheckRoutes);
  await app.register(yardRoutes);
  await app.register(yardScaleRoutes);
  await app.register(manifestRoutes);
  await app.register(ticketEntryRoutes);
  await app.register(ticketRoutes);
  await app.register(reportRoutes);
  await app.register(scaleReportRoutes);
  await app.register(fileRoutes);
  await app.register(attachmentRoutes);
  await app.register(findRoutes);
  await app.register(trailRoutes);
  return app;
}
