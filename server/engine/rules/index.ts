/** The rules, in the order their pages list them. */
import { blockLoad } from './block-load.ts'
import { chargingBalance } from './charging-balance.ts'
import { conductorAmpacity } from './conductor-ampacity.ts'
import { conductorProtection } from './conductor-protection.ts'
import { contactLoad } from './contact-load.ts'
import { fuseLoad } from './fuse-load.ts'
import { loadVoltage } from './load-voltage.ts'
import { ratedVoltage } from './rated-voltage.ts'
import { ratingEvidence } from './rating-evidence.ts'
import { returnPath } from './return-path.ts'
import type { Rule } from './rule.ts'
import { voltageDrop } from './voltage-drop.ts'
import { wayLoad } from './way-load.ts'

export const rules: readonly Rule[] = [
  conductorAmpacity,
  conductorProtection,
  voltageDrop,
  loadVoltage,
  fuseLoad,
  ratedVoltage,
  contactLoad,
  wayLoad,
  blockLoad,
  returnPath,
  chargingBalance,
  ratingEvidence,
]
