/** An item in words: "Ceiling fan, white"; its kind alone where it has no name of its own. */
export const wordsOf = ({ kind_name: kind, name }: { kind_name: string; name: string }): string =>
  name === '' ? kind : `${kind}, ${name}`;
