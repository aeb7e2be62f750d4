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
import type { Keeper } from './backups/keeper.ts';
import { backupRoutes } from './backups/routes.ts';
import { answerBadAddress, answerBadClient } from './bare-answers.ts';
import { wireKindRoutes } from './bench/kind-routes.ts';
import { benchRoutes } from './bench/routes.ts';
import { strippingRoutes } from './bench/stripping-routes.ts';
import type { Clock } from './clock.ts';
import type { Db } from './db/database.ts';
import { earningRoutes } from './earnings/routes.ts';
import { answerErrors } from './errors.ts';
import { fileRoutes } from './files/routes.ts';
import { findRoutes } from './find/routes.ts';
import { trailRoutes } from './history/routes.ts';
import { lastEntryRoutes } from './home/last-entry-routes.ts';
import { homeRoutes } from './home/routes.ts';
import { itemKindRoutes } from './items/kind-routes.ts';
import { partSaleRoutes } from './items/part-sale-routes.ts';
import { itemRoutes } from './items/routes.ts';
import { teardownRoutes } from './items/teardown-routes.ts';
import { KeptPages } from './kept-pages.ts';
import type { LastEntry } from './last-entry.ts';
import { binRoutes } from './ledger/bin-routes.ts';
import { inWeightListRoutes } from './ledger/in-weight-routes.ts';
import { weighInRoutes } from './ledger/weigh-in-routes.ts';
import { manifestRoutes } from './manifests/routes.ts';
import { cutSlowForms, nodeLimits, PATIENCE, type Patience } from './patience.ts';
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
  /** Looks after the backups of this ledger; null where it is not kept. */
  backups?: Keeper | null;
  /** The addresses that phones at home reach this server at, such as http://192.168.1.20:4870, the likeliest first. */
  homeUrls?: () => readonly string[];
  /** What tells whether the ledger holds what was written into it last; null for a ledger that is thrown away. */
  lastEntry?: LastEntry | null;
  /** Looks anew which addresses there are, and listens on them. */
  refreshNetwork?: () => Promise<void>;
  /** How long to wait for those who send. */
  patience?: Patience;
}

const BODY_LIMIT_BYTES = 2_000_000;
/**
 * What is kept by the browser that asked, asked for anew each time, and by nobody on the way. Not "no-store": Back would
 * then bring the form without what was typed into it. Files with an address of their own say otherwise.
 */
const KEPT_BY_NOBODY_ELSE = 'private, no-cache';

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

/** What is answered, area by area, in the order of the job. */
const AREAS = [
  homeRoutes,
  lastEntryRoutes,
  itemRoutes,
  weighInRoutes,
  inWeightListRoutes,
  binRoutes,
  teardownRoutes,
  partSaleRoutes,
  benchRoutes,
  wireKindRoutes,
  strippingRoutes,
  priceRoutes,
  setupRoutes,
  gradeRoutes,
  binSetupRoutes,
  tagRoutes,
  containerRoutes,
  scaleRoutes,
  scaleCheckRoutes,
  yardRoutes,
  yardScaleRoutes,
  itemKindRoutes,
  manifestRoutes,
  ticketEntryRoutes,
  ticketRoutes,
  reportRoutes,
  scaleReportRoutes,
  earningRoutes,
  fileRoutes,
  attachmentRoutes,
  findRoutes,
  trailRoutes,
  backupRoutes,
] as const;

/** Builds the server around one open ledger: everything it answers is registered here, in order. */
export async function buildApp(parts: AppParts): Promise<FastifyInstance> {
  const { db, clock, hosts = [], isDemo = false, openDemo = null, backups = null, lastEntry = null } = parts;
  const { homeUrls = () => [], refreshNetwork = async () => undefined, patience = PATIENCE } = parts;
  const { http, ...limits } = nodeLimits(patience);
  const app = Fastify({
    bodyLimit: BODY_LIMIT_BYTES,
    ...limits,
    // A header that is there twice is read as both, which no name and no Origin is, instead of as the first.
    http: { ...http, joinDuplicateHeaders: true },
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 200 },
    frameworkErrors: answerBadAddress,
    clientErrorHandler: answerBadClient,
  });
  const kept = new KeptPages();
  app.decorate('tarebook', { db, clock, isDemo, openDemo, backups, lastEntry, homeUrls, refreshNetwork, kept });
  answerErrors(app);
  cutSlowForms(app, patience);
  // Its own directives would send a phone on the home network to https, which is not there.
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: CONTENT_SECURITY },
    strictTransportSecurity: false,
    // Over plain HTTP browsers ignore these two, and complain on every page.
    crossOriginOpenerPolicy: false,
    originAgentCluster: false,
    xFrameOptions: { action: 'deny' },
    // Under no-referrer a browser sends "Origin: null" with its own forms, and the guard could not tell them apart.
    referrerPolicy: { policy: 'same-origin' },
  });
  app.addHook('onRequest', async (_request, reply) => void reply.header('cache-control', KEPT_BY_NOBODY_ELSE));
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
  for (const routes of AREAS) await app.register(routes);
  return app;
}
