import type * as find from '../find/table.ts';
import type * as ledger from '../ledger/table.ts';
import type * as manifests from '../manifests/table.ts';
import type * as prices from '../prices/table.ts';
import type * as reconciliation from '../reconciliation/table.ts';
import type * as scales from '../scales/table.ts';
import type * as setup from '../setup/table.ts';
import type * as tickets from '../tickets/table.ts';

/** Every table of a ledger, as Kysely sees it. Each area describes its own in its table.ts. */
export interface Tables {
  setting: setup.SettingTable;
  grade: setup.GradeTable;
  container: setup.ContainerTable;
  scale: setup.ScaleTable;
  yard: setup.YardTable;
  yard_grade: setup.YardGradeTable;
  yard_scale: setup.YardScaleTable;
  yard_scale_family: setup.YardScaleFamilyTable;
  scale_check: scales.ScaleCheckTable;
  scale_check_undone: scales.ScaleCheckUndoneTable;
  load_weighing: scales.LoadWeighingTable;
  bin: ledger.BinTable;
  account: ledger.AccountTable;
  in_weight: ledger.InWeightTable;
  recount: ledger.RecountTable;
  bin_transfer: ledger.BinTransferTable;
  transfer: ledger.TransferTable;
  balance: ledger.BalanceTable;
  request: ledger.RequestTable;
  event: ledger.EventTable;
  quote: prices.QuoteTable;
  quote_take_back: prices.QuoteTakeBackTable;
  quote_take_back_undone: prices.QuoteTakeBackUndoneTable;
  manifest: manifests.ManifestTable;
  manifest_line: manifests.ManifestLineTable;
  load_return: manifests.LoadReturnTable;
  load_return_undone: manifests.LoadReturnUndoneTable;
  ticket: tickets.TicketTable;
  ticket_take_back: tickets.TicketTakeBackTable;
  ticket_take_back_undone: tickets.TicketTakeBackUndoneTable;
  ticket_total: tickets.TicketTotalTable;
  ticket_line: tickets.TicketLineTable;
  ticket_line_load: tickets.TicketLineLoadTable;
  reconciliation_group: reconciliation.ReconciliationGroupTable;
  reconciliation_share: reconciliation.ReconciliationShareTable;
  found: find.FoundTable;
  sale_month: reconciliation.SaleMonthTable;
}
