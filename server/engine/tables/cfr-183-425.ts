/** 33 CFR 183.425 Table 5: allowable amperage of copper conductors at 30 °C ambient, by AWG size and insulation. Grade: read. */

export const insulationColumns_degC = [60, 75, 80, 90, 105, 125, 200] as const

/** n is the AWG number, 00 being −1. */
export const cfr183425: readonly { readonly awg: string; readonly n: number; readonly allowable_A: readonly number[] }[] = [
  { awg: '18', n: 18, allowable_A: [10, 10, 15, 20, 20, 25, 25] },
  { awg: '16', n: 16, allowable_A: [15, 15, 20, 25, 25, 30, 35] },
  { awg: '14', n: 14, allowable_A: [20, 20, 25, 30, 35, 40, 45] },
  { awg: '12', n: 12, allowable_A: [25, 25, 35, 40, 45, 50, 55] },
  { awg: '10', n: 10, allowable_A: [40, 40, 50, 55, 60, 70, 70] },
  { awg: '8', n: 8, allowable_A: [55, 65, 70, 70, 80, 90, 100] },
  { awg: '6', n: 6, allowable_A: [80, 95, 100, 100, 120, 125, 135] },
  { awg: '4', n: 4, allowable_A: [105, 125, 130, 135, 160, 170, 180] },
  { awg: '3', n: 3, allowable_A: [120, 145, 150, 155, 180, 195, 210] },
  { awg: '2', n: 2, allowable_A: [140, 170, 175, 180, 210, 225, 240] },
  { awg: '1', n: 1, allowable_A: [165, 195, 210, 210, 245, 265, 280] },
  { awg: '0', n: 0, allowable_A: [195, 230, 245, 245, 285, 305, 325] },
  { awg: '00', n: -1, allowable_A: [225, 265, 285, 285, 330, 355, 370] },
  { awg: '000', n: -2, allowable_A: [260, 310, 330, 330, 385, 410, 430] },
  { awg: '0000', n: -3, allowable_A: [300, 360, 385, 385, 445, 475, 510] },
]
