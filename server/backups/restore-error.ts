/** Why a file cannot be restored, in one sentence for the person. The ledger is then as it was. */
export class RestoreError extends Error {}
