/** Ampacity of a conductor: 33 CFR 183.425 Table 5, log–log between sizes, with ambient and bundle. */
import { awgArea_mm2 } from './parts/conductor-sizes.ts'
import { cfr183425, insulationColumns_degC } from './tables/cfr-183-425.ts'
import { materials } from './tables/material-constants.ts'

type Conductor = { readonly crossSection_mm2: number; readonly insulation_degC: number; readonly material: string }

/**
 * Ampacity in A: I30(A, Tc)·√((Tr − Ta)/(Tc − 30))·bundle, capped by the next column's at 30 °C.
 * Tr insulation rating and Ta ambient in °C; Tc the next insulation column at or below Tr. Null below 60 °C insulation.
 * Zero at or above Tr. Ambient law reproduces NEC 310.15(B)(2); base figures 33 CFR 183.425 Table 5.
 */
export function ampacity_A(given: Conductor & { readonly ambient_degC: number; readonly bundle: number }): number | null {
  const base = baseAmpacity(given)
  if (!base) return null
  const { I30, Tc, next_A } = base
  if (given.ambient_degC >= given.insulation_degC) return 0
  const atAmbient = I30 * Math.sqrt((given.insulation_degC - given.ambient_degC) / (Tc - 30))
  const capped = next_A === null || given.ambient_degC < 30 ? atAmbient : Math.min(atAmbient, next_A)
  return capped * bundleFactor(given.bundle)
}

/** I30 in A at column Tc, and the next column's figure, for temperature feedback and for the ampacity. */
export function baseAmpacity(given: Conductor): { readonly I30: number; readonly Tc: number; readonly next_A: number | null } | null {
  const material = materials[given.material]
  if (!material) return null
  const column = insulationColumns_degC.findLastIndex((column_degC) => column_degC <= given.insulation_degC)
  if (column < 0) return null
  // Aluminium and clad: by the square root of the conductivity ratio (equal loss per metre).
  const share = Math.sqrt(material.conductivity_IACS)
  const next = column + 1 < insulationColumns_degC.length ? tableAmpacity_A(given.crossSection_mm2, column + 1) * share : null
  return { I30: tableAmpacity_A(given.crossSection_mm2, column) * share, Tc: insulationColumns_degC[column] as number, next_A: next }
}

/** Whether the cross-section is under 18 AWG, where the table ends and ampacity is scaled with area (assumed). */
export function isBelowTable(crossSection_mm2: number): boolean {
  return crossSection_mm2 < (SIZES[0] as Size).area_mm2 * (1 - 1e-9)
}

/** Conductors laid together, loaded: 3: 0.70, 4–6: 0.60, 7–24: 0.50, 25 up: 0.40 (33 CFR 183.425 note 2, memory; the law binds from 50 V). */
export function bundleFactor(conductors: number): number {
  if (conductors <= 2) return 1
  if (conductors <= 3) return 0.7
  if (conductors <= 6) return 0.6
  return conductors <= 24 ? 0.5 : 0.4
}

type Size = { readonly area_mm2: number; readonly allowable_A: readonly number[] }
const SIZES: readonly Size[] = cfr183425.map((row) => ({ area_mm2: awgArea_mm2(row.n), allowable_A: row.allowable_A }))

function tableAmpacity_A(crossSection_mm2: number, column: number): number {
  const smallest = SIZES[0] as Size
  if (crossSection_mm2 <= smallest.area_mm2) return (smallest.allowable_A[column] as number) * (crossSection_mm2 / smallest.area_mm2)
  const above = SIZES.findIndex((size) => size.area_mm2 >= crossSection_mm2)
  // Beyond the largest size the last two rows' slope goes on.
  const upper = SIZES[above < 0 ? SIZES.length - 1 : above] as Size
  const lower = SIZES[(above < 0 ? SIZES.length - 1 : above) - 1] as Size
  const x = Math.log(crossSection_mm2 / lower.area_mm2) / Math.log(upper.area_mm2 / lower.area_mm2)
  const low = lower.allowable_A[column] as number
  return low * ((upper.allowable_A[column] as number) / low) ** x
}
