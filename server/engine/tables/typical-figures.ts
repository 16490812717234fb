/** Figures that stand in for an absent rating, each graded typical and named in the finding. */

/** Type C fuse-link drop at rated current; data sheets read print 96 mV at 40 A, others are memory. */
export const FUSE_DROP_V = 0.1

/** New relay contact: 1–3 mΩ; memory. */
export const RELAY_CONTACT_ohm = 0.002

/** Lead-acid at full charge, 12 V: default of the widely printed table; copies read print 12.6–12.7 V. */
export const OPEN_CIRCUIT_VPer12V = 12.65

/** End voltages of the cold-cranking tests, 12 V battery at −18 °C: SAE J537 and EN 50342 (read); start 12.6 V (memory). */
export const COLD_CRANKING = { start_V: 12.6, SAE_end_V: 7.2, EN_end_V: 7.5 }

/** Coil resistance, the low end of what is usual (draws most): 75–100 Ω at 12 V, 270–360 Ω at 24 V; memory. */
export const COIL_ohm: Readonly<Record<number, number>> = { 6: 19, 12: 75, 24: 270, 48: 1080 }

/** Pick-up voltage at 20 °C as a share of the nominal voltage: 60–65 % (memory), 7.2 V of 12 V read on one sheet; the upper end, 8 V of 12 V. */
export const PICK_UP_share = 8 / 12
