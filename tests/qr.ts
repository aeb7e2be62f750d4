import jsQR from 'jsqr';
import sharp from 'sharp';

// An independent decoder reads what a phone's camera would see.

/** The text of a QR code in a picture, or null. Pictures of pixels are read as they are, SVG at 600 dpi. */
export async function readQr(picture: string | Buffer): Promise<string | null> {
  const source = sharp(Buffer.from(picture), { density: 600 }).flatten({ background: '#fff' }).ensureAlpha();
  const { data, info } = await source.raw().toBuffer({ resolveWithObject: true });
  return jsQR.default(new Uint8ClampedArray(data), info.width, info.height)?.data ?? null;
}

/** The first QR code of a page. */
export function readQrIn(body: string): Promise<string | null> {
  const svg = /<svg class="qr"[\s\S]*?<\/svg>/.exec(body)?.[0] ?? '<svg ></svg>';
  return readQr(svg.replace('<svg ', '<svg xmlns="http://www.w3.org/2000/svg" '));
}

/** A QR code drawn in half blocks, as a terminal shows it, light on dark. */
export function readTerminalQr(text: string): Promise<string | null> {
  const lines = text.split('\n').filter((line) => /^[█▀▄ ]{20,}$/.test(line));
  const rows = lines.flatMap((line) => [
    [...line].map((half) => half === '█' || half === '▀'),
    [...line].map((half) => half === '█' || half === '▄'),
  ]);
  const width = rows[0]?.length ?? 0;
  const light = rows.flatMap((row, y) => row.flatMap((isLight, x) => (isLight ? [`M${x} ${y}h1v1h-1z`] : []))).join('');
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${rows.length}"><rect width="${width}" height="${rows.length}" fill="#000"/><path fill="#fff" d="${light}"/></svg>`;
  return readQr(svg);
}
