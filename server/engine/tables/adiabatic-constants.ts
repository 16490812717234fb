/** Constants of the adiabatic law I²t ≤ k²S², IEC 60364-4-43 and 60364-5-54: read in two public reproductions, all k recomputed. */

export type Adiabatic = { readonly Qc_JPerKmm3: number; readonly beta_degC: number; readonly rho20_ohmMm: number }

export const COPPER: Adiabatic = { Qc_JPerKmm3: 3.45e-3, beta_degC: 234.5, rho20_ohmMm: 17.241e-6 }
/** Clad conductors are taken as aluminium. */
export const ALUMINIUM: Adiabatic = { Qc_JPerKmm3: 2.5e-3, beta_degC: 228, rho20_ohmMm: 28.264e-6 }

/** Temperature the insulation stands for a short's length, °C: PVC 160 (140 above 300 mm²), XLPE 250, silicone 350. */
export function finalTemperature_degC(insulation: string | null, crossSection_mm2: number): number {
  if (insulation !== null && /XLPE|EPR/i.test(insulation)) return 250
  if (insulation !== null && /silicone/i.test(insulation)) return 350
  return crossSection_mm2 > 300 ? 140 : 160
}

/** k in A·√s/mm²: √(Qc·(β + 20)/ρ20·ln((β + θf)/(β + θi))); 0 where the conductor starts at its final temperature. */
export function adiabatic_k(given: { readonly material: Adiabatic; readonly initial_degC: number; readonly final_degC: number }): number {
  const { material, initial_degC, final_degC } = given
  if (initial_degC >= final_degC) return 0
  const { Qc_JPerKmm3: Qc, beta_degC: beta, rho20_ohmMm: rho20 } = material
  return Math.sqrt(((Qc * (beta + 20)) / rho20) * Math.log((beta + final_degC) / (beta + initial_degC)))
}
