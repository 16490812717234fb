/** Series a remedy may name. Fuse ratings: read (C, F) and memory above; conductor cross-sections of IEC 60228 and ISO 6722. */
export const fuseRatings_A = [
  1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100, 125, 150, 175, 200, 225, 250, 300, 350, 400, 500,
] as const
export const crossSections_mm2 = [0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240] as const

/** Classes of plug-in relays and contactors, A of the make contact. Common practice. */
export const contactClasses_A = [20, 30, 40, 50, 70, 100, 150, 200, 300, 500] as const
