/**
 * Everything the ledger may refuse, apart from fields that cannot be read. A refusal is thrown inside the act's
 * transaction, so that nothing of the act stays; only the transport layer (routes, import, commands) catches it.
 */
export type RefusalCode =
  | 'not_found'
  | 'wrong_host'
  | 'wrong_origin'
  | 'not_let_in'
  | 'passphrase_set'
  | 'passphrase_wrong'
  | 'too_many_tries'
  | 'code_spent'
  | 'name_taken'
  | 'in_use'
  | 'bin_closed'
  | 'bin_not_empty'
  | 'bin_below_zero'
  | 'net_not_positive'
  | 'unlikely_weight'
  | 'already_undone'
  | 'check_not_newest'
  | 'already_corrected'
  | 'not_taken_back'
  | 'changed_since'
  | 'same_bin'
  | 'item_closed'
  | 'day_before_pick_up'
  | 'day_before_listing'
  | 'clock_running'
  | 'clock_not_running'
  | 'clock_forgotten'
  | 'sold_already'
  | 'not_a_part'
  | 'grade_differs'
  | 'day_in_future'
  | 'day_before_loading'
  | 'day_before_weighings'
  | 'load_above_bin'
  | 'manifest_empty'
  | 'manifest_not_draft'
  | 'draft_changed'
  | 'manifest_not_loaded'
  | 'manifest_of_other_yard'
  | 'weight_missing'
  | 'load_of_other_manifest'
  | 'load_already_paid'
  | 'load_returned'
  | 'load_unknown'
  | 'ticket_replaced'
  | 'ticket_taken_back'
  | 'ticket_known'
  | 'file_known'
  | 'photo_known'
  | 'form_used'
  | 'form_old'
  | 'too_large'
  | 'ledger_not_empty'
  | 'not_made';

/** One act refused, with the field it is about ('' for the whole form) and a sentence that says what would be right. */
export class Refusal extends Error {
  readonly code: RefusalCode;
  readonly field: string;

  constructor(code: RefusalCode, field: string, sentence: string) {
    super(sentence);
    this.name = 'Refusal';
    this.code = code;
    this.field = field;
  }
}
