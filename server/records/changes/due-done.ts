/** What was due has been looked at. One that comes round is set anew, counted from the day and the reading of that look. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { plusMonths } from '../days.ts'
import type { Due } from '../state.ts'
import { defineChangeKind } from './change-kind.ts'
import { key } from './fields.ts'
import { withKey, withoutKeys } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'due-done' }>, 'kind'>

export const dueDone = defineChangeKind<Payload>({
  kind: 'due-done',
  v: 1,
  payload: z.strictObject({ key }),
  apply(state, payload, given) {
    const due = state.due.get(payload.key)
    if (!due) return { sentence: `Nothing called "${payload.key}" is due then.` }
    const { every_months, every_km, on: _, odometer_km: __, ...rest } = due
    if (every_months === undefined && every_km === undefined) return { ...state, due: withoutKeys(state.due, [payload.key]) }
    if (every_km !== undefined && given.odometer_km === null)
      return { sentence: `"${due.what}" comes round by distance: give the odometer reading, so that the next can be set.` }
    const next: Due = {
      ...rest,
      entryId: given.entryId,
      ...(every_months === undefined ? {} : { every_months, on: plusMonths(given.effectiveOn, every_months) }),
      ...(every_km === undefined || given.odometer_km === null ? {} : { every_km, odometer_km: given.odometer_km + every_km }),
    }
    return { ...state, due: withKey(state.due, payload.key, next) }
  },
  sentence: (payload) => `Looked at what was due (${payload.key}).`,
})
