/** A QR code (ISO/IEC 18004) as one path, a square a module: the policy allows no picture from elsewhere and no style. */
import QRCode from 'qrcode'

/** `size` counts modules, the four of the quiet zone on each side included. */
export type QrView = { readonly size: number; readonly path: string }

/** Level M: 15 % of the code may be lost to dirt. */
export function qrOf(text: string): QrView {
  const { modules } = QRCode.create(text, { errorCorrectionLevel: 'M' })
  const squares: string[] = []
  for (let y = 0; y < modules.size; y++) {
    for (let x = 0; x < modules.size; x++) {
      if (!modules.get(y, x)) continue
      let run = 1
      while (x + run < modules.size && modules.get(y, x + run)) run++
      squares.push(`M${x + 4} ${y + 4}h${run}v1h-${run}z`)
      x += run - 1
    }
  }
  return { size: modules.size + 8, path: squares.join('') }
}
