/** Kinds of acts as a person looks for them, each with the kinds of documents that the trail notes for it. */
export const actKinds = {
  items: ['item', 'work', 'item_output', 'part_sale'],
  weighings: ['in_weight'],
  bins: ['bin', 'recount', 'bin_transfer', 'stripping'],
  prices: ['price_board', 'quote'],
  manifests: ['manifest', 'manifest_line'],
  tickets: ['ticket'],
  scales: ['scale', 'scale_check', 'yard_scale'],
  wire: ['wire_kind', 'wire_sample', 'stripping'],
  'set-up': ['grade', 'container', 'yard', 'yard_grade', 'item_kind', 'setting'],
  photos: ['attachment'],
  files: ['file'],
  devices: ['device'],
} as const;
export type ActKind = keyof typeof actKinds;

/** A document that has a page and a trail of its own. */
export const trailDocuments = [
  'item',
  'bin',
  'manifest',
  'ticket',
  'yard',
  'scale',
  'grade',
  'container',
  'item_kind',
  'wire_kind',
] as const;
export interface TrailDocument {
  kind: (typeof trailDocuments)[number];
  id: number;
}

/** Reads "bin-12", as an address names a document; null for anything else. */
export function readTrailDocument(text: string): TrailDocument | null {
  const [, kind = '', id = ''] = /^([a-z_]+)-(\d{1,15})$/.exec(text) ?? [];
  const known = trailDocuments.find((each) => each === kind);
  return known === undefined ? null : { kind: known, id: Number.parseInt(id, 10) };
}
