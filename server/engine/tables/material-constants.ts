/** Resistivity and temperature coefficient of conductor materials at 20 °C. */

export type Material = { readonly rho20_ohmMm2PerM: number; readonly alpha20_perK: number; readonly conductivity_IACS: number }

// 100 % IACS is 58 MS/m: IEC 60028 (1/58 = 0.017241 Ω·mm²/m, read in a secondary copy).
const IACS_SPerM = 58

export const materials: Readonly<Record<string, Material>> = {
  // α20 0.00393 /K: memory; agrees with −234.5 °C inferred zero read in FAA AC 43.13-1B.
  copper: { rho20_ohmMm2PerM: 1 / IACS_SPerM, alpha20_perK: 0.00393, conductivity_IACS: 1 },
  // × 1.03: IEC 60228 class 5, tinned column against plain (1 mm² 20.0 / 19.5, read).
  'tinned-copper': { rho20_ohmMm2PerM: 1.03 / IACS_SPerM, alpha20_perK: 0.00393, conductivity_IACS: 1 / 1.03 },
  // 62.9 and 64.4 % IACS: ASTM B566 (read); α20: memory.
  'cca-10': { rho20_ohmMm2PerM: 1 / (0.629 * IACS_SPerM), alpha20_perK: 0.004, conductivity_IACS: 0.629 },
  'cca-15': { rho20_ohmMm2PerM: 1 / (0.644 * IACS_SPerM), alpha20_perK: 0.004, conductivity_IACS: 0.644 },
  // 61 % IACS: IEC 60889 (read); α20 0.00403: memory.
  aluminium: { rho20_ohmMm2PerM: 1 / (0.61 * IACS_SPerM), alpha20_perK: 0.00403, conductivity_IACS: 0.61 },
}
