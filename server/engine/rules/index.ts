/** The rules, in the order their pages list them. */
import { batteryLink } from './battery-link.ts'
import { batteryReserve } from './battery-reserve.ts'
import { blockLoad } from './block-load.ts'
import { chargingBalance } from './charging-balance.ts'
import { coilPickUp } from './coil-pick-up.ts'
import { coilSuppression } from './coil-suppression.ts'
import { conductorAmpacity } from './conductor-ampacity.ts'
import { conductorEntry } from './conductor-entry.ts'
import { conductorProtection } from './conductor-protection.ts'
import { contactDuty } from './contact-duty.ts'
import { contactInrush } from './contact-inrush.ts'
import { contactLoad } from './contact-load.ts'
import { faultClears } from './fault-clears.ts'
import { faultWithstand } from './fault-withstand.ts'
import { fuseBreaking } from './fuse-breaking.ts'
import { fuseInrush } from './fuse-inrush.ts'
import { fuseLoad } from './fuse-load.ts'
import { fuseOrder } from './fuse-order.ts'
import { fusePlacing } from './fuse-placing.ts'
import { groundOffset } from './ground-offset.ts'
import { holderLoad } from './holder-load.ts'
import { loadVoltage } from './load-voltage.ts'
import { overvoltage } from './overvoltage.ts'
import { poleLoad } from './pole-load.ts'
import { ratedVoltage } from './rated-voltage.ts'
import { ratingEvidence } from './rating-evidence.ts'
import { resetGuard } from './reset-guard.ts'
import { returnPath } from './return-path.ts'
import type { Rule } from './rule.ts'
import { smallConductor } from './small-conductor.ts'
import { unfusedLength } from './unfused-length.ts'
import { voltageDrop } from './voltage-drop.ts'
import { wayLoad } from './way-load.ts'
import { zoneFuel } from './zone-fuel.ts'
import { zoneHeat } from './zone-heat.ts'
import { zoneWater } from './zone-water.ts'

export const rules: readonly Rule[] = [
  conductorAmpacity,
  conductorProtection,
  unfusedLength,
  batteryLink,
  voltageDrop,
  loadVoltage,
  overvoltage,
  faultClears,
  faultWithstand,
  fuseLoad,
  holderLoad,
  fuseInrush,
  fuseBreaking,
  ratedVoltage,
  fuseOrder,
  contactLoad,
  contactInrush,
  coilPickUp,
  contactDuty,
  wayLoad,
  blockLoad,
  poleLoad,
  conductorEntry,
  returnPath,
  chargingBalance,
  batteryReserve,
  zoneHeat,
  zoneWater,
  zoneFuel,
  resetGuard,
  fusePlacing,
  coilSuppression,
  smallConductor,
  groundOffset,
  ratingEvidence,
]
