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

/**
 * Ends the process on a fault that nobody caught, with a sentence before it. Who posted gets no answer, and its page says
 * so; nothing that was answered can be lost by it, because every answer comes after its transaction.
 */
export function endOnFault(): void {
  process.on('uncaughtException', (error) => {
    console.error(
      'Something went wrong inside Tarebook, and it stopped. Nothing that was saved is lost: start it again.',
    );
    console.error(error);
    process.exit(1);
  });
}
