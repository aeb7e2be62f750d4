import { fileURLToPath } from 'node:url';
import compress from '@fastify/compress';
import formbody from '@fastify/formbody';
import helmet from '@fastify/helmet';
import multipart from '@fastify/multipart';
import statics from '@fastify/static';
import Fastify, { type FastifyInstance } from 'fastify';
import type { Clock } from './clock.ts';
import type { Db } from './db/database.ts';
import { answerErrors } from './errors.ts';
import { fileRoutes } from './files/routes.ts';
import { findRoutes } from './find/routes.ts';
import { guardOrigin } from './guard.ts';
import { trailRoutes } from './history/routes.ts';
import { homeRoutes } from './home/routes.ts';
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
import { yardRoutes } from './setup/yard-routes.ts';
import { yardScaleRoutes } from './setup/yard-scale-routes.ts';
import { styleRoutes } from './styles.ts';
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
}

const BODY_LIMIT_BYTES = 2_000_000;
const TIMEOUT_MS = 20_000;

const file = (path: string) => fileURLToPath(new URL(path, import.meta.url));

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
  const { db, clock, hosts = [], isDemo = false, openDemo = null, homeUrls = () => [] } = parts;
  const app = Fastify({
    bodyLimit: BODY_LIMIT_BYTES,
    requestTimeout: TIMEOUT_MS,
    connectionTimeout: TIMEOUT_MS,
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 200 },
  });
  app.decorate('tarebook', { db, clock, isDemo, openDemo, homeUrls });
  guardOrigin(app, hosts);
  answerErrors(app);
  // Its own directives would send a phone on the home network to https, which is not there.
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: CONTENT_SECURITY },
    strictTransportSecurity: false,
    // Under no-referrer a browser sends "Origin: null" with its own forms, and the guard could not tell them apart.
    referrerPolicy: { policy: 'same-origin' },
  });
  await app.register(compress, { threshold: 1024 });
  // Only what the forms of a page send is read: fields and files.
  app.removeAllContentTypeParsers();
  await app.register(formbody, { bodyLimit: BODY_LIMIT_BYTES });
  await app.register(multipart, { limits: { fileSize: 10_000_000, files: 1, fields: 20, parts: 21 } });
  await app.register(styleRoutes);
  // htmx is served from its package as it came, beside our own files.
  const htmx = file('../node_modules/htmx.org/dist/');
  await app.register(statics, { root: [file('../views/static'), htmx], prefix: '/static/', maxAge: '1h' });

  app.get('/health', async () => ({ ok: true }));
  await app.register(homeRoutes);
  await app.register(weighInRoutes);
  await app.register(inWeightListRoutes);
  await app.register(binRoutes);
  await app.register(priceRoutes);
  await app.register(setupRoutes);
  await app.register(gradeRoutes);
  await app.register(binSetupRoutes);
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
  await app.register(findRoutes);
  await app.register(trailRoutes);
  return app;
}
