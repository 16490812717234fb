/** Cross-sections that size names stand for. An SAE gauge holds less copper than the AWG of the same number. */
import type { SizeName } from '../vehicle.ts'

// SAE cable, minimum conductor area. Sizes 18–10, 6, 4, 2, 0, 00: read in public copies; 8, 1, 000, 0000: memory.
const SAE_AREA_mm2: Readonly<Record<string, number>> = {
  '18': 0.779,
  '16': 1.184,
  '14': 1.876,
  '12': 2.956,
  '10': 4.734,
  '8': 7.504,
  '6': 12.434,
  '4': 18.931,
  '2': 31.644,
  '1': 39.417,
  '0': 50.154,
  '00': 63.389,
  '000': 80.364,
  '0000': 104.128,
}

/** Cross-section in mm² of a named size, or null if the system has no such size. */
export function areaOf_mm2(size: SizeName): number | null {
  if (size.system === 'AWG') {
    const gauge = gaugeNumber(size.name)
    return gauge === null ? null : awgArea_mm2(gauge)
  }
  if (size.system === 'SAE') {
    const name = plainName(size.name)
    return Object.hasOwn(SAE_AREA_mm2, name) ? (SAE_AREA_mm2[name] as number) : null
  }
  const area_mm2 = /^[0-9]+(\.[0-9]+)?$/.test(size.name) ? Number(size.name) : 0
  return area_mm2 > 0 && area_mm2 <= 1000 ? area_mm2 : null
}

/** AWG cross-section: d = 0.127 mm · 92^((36 − n)/39), A = π/4 · d². ASTM B258. n: 0 for 0, −1 for 00 … */
export function awgArea_mm2(n: number): number {
  const d_mm = 0.127 * 92 ** ((36 - n) / 39) // ASTM B258
  return (Math.PI / 4) * d_mm * d_mm
}

function gaugeNumber(name: string): number | null {
  const plain = plainName(name)
  if (/^0{1,4}$/.test(plain)) return 1 - plain.length
  if (!/^[1-9][0-9]?$/.test(plain)) return null
  const n = Number(plain)
  return n <= 40 ? n : null
}

/** "4/0" is "0000". */
function plainName(name: string): string {
  const aught = /^([1-4])\/0$/.exec(name)
  return aught ? '0'.repeat(Number(aught[1])) : name
}
