import type { FastifyInstance, FastifyRequest } from 'fastify';
import { type TagsPage, tagsPage } from '../../views/setup/tags.ts';
import type { Ledger } from '../context.ts';
import { type BinOnHand, listAllBins } from '../ledger/queries.ts';
import type { Reader, Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { bodyOf, idsOf, ledgerOf, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { chooseHomeAddress } from './acts.ts';
import { findHomeAddress, listContainers } from './queries.ts';
import { readHomeAddress } from './tag-address.ts';

/** How many tags stand on one page at most. */
const MOST_TAGS = 200;

/** Tags for the bins, to print and cut out, with codes that open the weigh-in on a phone. */
export async function tagRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/tags', (request, reply) => {
    const parts = readTags(request, queryOf(request));
    const typed = { address: parts.address ?? '', requestKey: newRequestKey() };
    return sendHtml(reply, tagsPage(showOf(request), parts, { typed, problems: {} }));
  });

  app.post('/setup/tags/address', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        chooseHomeAddress(ledger, readChosenAddress(reader, request));
        return tagsAddress(bodyOf(request));
      },
      again: (show, typed, problems) => tagsPage(show, readTags(request, typed), { typed, problems }),
    }),
  );
}

/** The same tags again, after the address of their codes was chosen. */
function tagsAddress(typed: Typed): string {
  const query = new URLSearchParams({ chosen: 'address' });
  for (const id of idsOf(typed.bins ?? '')) query.append('bins', String(id));
  return `/setup/tags?${query}`;
}

/** A name that was typed goes before the list. */
function readChosenAddress(reader: Reader, request: FastifyRequest): string {
  const name = reader.raw('name');
  const chosen = reader.raw('address');
  const address = name === '' ? chosen : reader.take('name', readHomeAddress(name, portOf(request)));
  if (name === '' && !addressChoices(request).includes(chosen)) {
    reader.problem('address', 'Choose an address from the list, or type a name below it.');
  }
  reader.done();
  return address;
}

/** The port that this server is reached at. */
function portOf(request: FastifyRequest): number {
  const [first = `http://${request.host}`] = request.server.tarebook.homeUrls();
  return Number.parseInt(new URL(first).port || '80', 10);
}

const homeUrlsOf = (request: FastifyRequest): string[] =>
  request.server.tarebook.homeUrls().map((url) => url.replace(/\/$/, ''));

/** The addresses to choose from: those this computer has now, and the one that was chosen before. */
function addressChoices(request: FastifyRequest): string[] {
  const kept = findHomeAddress(ledgerOf(request).db);
  return [...new Set([...homeUrlsOf(request), ...(kept === undefined ? [] : [kept])])];
}

function readTags(request: FastifyRequest, query: Typed): TagsPage {
  const ledger = ledgerOf(request);
  const homeUrls = homeUrlsOf(request);
  const wanted = wantedIds(query);
  const bins = listAllBins(ledger.db).filter((bin) => bin.closed_on === null || wanted?.has(bin.id));
  const chosen = wanted === null ? bins : bins.filter((bin) => wanted.has(bin.id));
  return {
    bins: bins.map((bin) => ({ id: bin.id, code: bin.code, isChosen: chosen.includes(bin) })),
    tags: tagsOf(ledger, chosen.slice(0, MOST_TAGS)),
    leftOut: Math.max(0, chosen.length - MOST_TAGS),
    address: homeUrls.length === 0 ? null : (findHomeAddress(ledger.db) ?? homeUrls[0] ?? null),
    homeUrls,
    addressChoices: addressChoices(request),
    isAddressSaved: query.chosen === 'address',
  };
}

/** The bins that the address names; null where it names none and was not sent by the form: then all are meant. */
function wantedIds(query: Typed): Set<number> | null {
  const ids = new Set(idsOf(query.bins ?? ''));
  return ids.size === 0 && query.chosen !== 'bins' ? null : ids;
}

function tagsOf({ db }: Ledger, bins: readonly BinOnHand[]): TagsPage['tags'] {
  const containers = listContainers(db);
  return bins.map(({ code, grade_name, family, place, container_id }) => {
    const container = containers.find(({ id }) => id === container_id) ?? null;
    return { code, gradeName: grade_name, family, place, container };
  });
}
