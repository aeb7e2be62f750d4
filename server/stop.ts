/**
 * Closes in order when the process is told to end. Ctrl+C comes from the terminal and from npm both: the second signal
 * must not cut the closing short, or the ledger's last pages stay in its log file.
 */
export function closeOnSignal(close: () => Promise<void>): void {
  let isClosing = false;
  const stop = async () => {
    if (isClosing) return;
    isClosing = true;
    await close();
    process.exit(0);
  };
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, stop);
}
