import type { FastifyInstance } from 'fastify';
import { starterGrades } from '../../seed/grades.ts';
import { starterKinds } from '../../seed/item-kinds.ts';
import { type HomeParts, homePage } from '../../views/home/home.ts';
import { demoReadyPage, welcomePage } from '../../views/home/welcome.ts';
import { unreadHomeUrl } from '../access/queries.ts';
import type { Ledger } from '../context.ts';
import { addStarterKinds } from '../items/kind-acts.ts';
import { listBinsOnHand } from '../ledger/queries.ts';
import { manifestsWithStatus } from '../manifests/queries.ts';
import { newestQuotes } from '../prices/queries.ts';
import { Refusal } from '../refusal.ts';
import { newRequestKey } from '../request-key.ts';
import { isCheckDue, unsettledCheck } from '../scales/due.ts';
import { lastCheckedScalesInUse } from '../scales/queries.ts';
import { traitsOf } from '../scales/tolerance.ts';
import { beginWithStarterList } from '../setup/acts.ts';
import { isLedgerEmpty, listYards } from '../setup/queries.ts';
import { ledgerOf, sendHtml, sendKept, showOf, submit } from '../web.ts';
import { clockTrouble, totalValue, valueBins } from './compute.ts';
import { loadsOnNoTicket, newestEntryAt } from './queries.ts';

/** The overview: what is in the bins, what it is worth, what to do next; on an empty ledger, how to begin. */
export async function homeRoutes(app: FastifyInstance): Promise<void> {
  const canShowDemo = app.tarebook.openDemo !== null;

  app.get('/', async (request, reply) => {
    const { db, clock } = app.tarebook;
    const isLacking = (app.tarebook.lastEntry?.missing ?? null) !== null;
    if (isLedgerEmpty(db) && !isLacking) {
      return sendHtml(
        reply,
        welcomePage(showOf(request), { typed: { requestKey: newRequestKey() }, problems: {} }, canShowDemo),
      );
    }
    // What is worth knowing and is not in the ledger: the page is another when one of them is.
    const beside: Beside = {
      lacksEntries: isLacking,
      backupReminder: app.tarebook.backups?.reminder ?? null,
      clockTrouble: clockTrouble(clock.now(), newestEntryAt(db)),
    };
    return sendKept(
      request,
      reply,
      () => homePage(showOf(request), { ...readHome(ledgerOf(request)), ...beside }),
      beside,
    );
  });

  app.post('/starter-list', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        beginWithStarterList(
          ledger,
          starterGrades.map(({ quotedPer, spoiledBy, ...grade }) => ({
            ...grade,
            quoted_per: quotedPer,
            spoiled_by: spoiledBy,
          })),
          (part) => `${addStarterKinds(part, starterKinds)} kinds of items`,
        );
        return '/setup';
      },
      again: (show, typed, problems) => welcomePage(show, { typed, problems }, canShowDemo),
    }),
  );

  // The demo answers at an address of its own; a form may only lead within this one, so a page with a link is between.
  app.post('/demo', async (request, reply) => {
    const { openDemo } = app.tarebook;
    if (openDemo === null) throw new Refusal('not_found', '', 'The demo ledger is not offered here.');
    return sendHtml(reply, demoReadyPage(showOf(request), await openDemo()));
  });
}

/** What the first page says that is not in the ledger itself. */
type Beside = Pick<HomeParts, 'lacksEntries' | 'backupReminder' | 'clockTrouble'>;

function readHome({ db, clock, settings }: Ledger): Omit<HomeParts, keyof Beside> {
  const today = clock.today();
  const quotes = newestQuotes(db, today);
  const bins = valueBins(listBinsOnHand(db), quotes, settings);
  const scales = lastCheckedScalesInUse(db).map((last) => ({ last, failed: unsettledCheck(traitsOf(last), last) }));
  return {
    bins,
    totalMinor: totalValue(bins),
    quotes,
    drafts: manifestsWithStatus(db, 'draft'),
    loaded: manifestsWithStatus(db, 'loaded'),
    openLoads: loadsOnNoTicket(db),
    hasYards: listYards(db).length > 0,
    newHomeUrl: unreadHomeUrl(db),
    failedScales: scales.flatMap(({ last, failed }) => (failed === null ? [] : [{ scale: last, failed }])),
    dueScales: scales
      .filter(({ last, failed }) => failed === null && isCheckDue(last, today, settings.scaleCheckDays))
      .map(({ last }) => last),
  };
}
