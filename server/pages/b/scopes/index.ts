/** The pages that a build page can have, in the order they are offered. */
import type { Scope } from '../scope.ts'
import { costs } from './costs.ts'
import { currents } from './currents.ts'
import { drawing } from './drawing.ts'
import { findings } from './findings.ts'
import { fuses } from './fuses.ts'
import { journal } from './journal.ts'
import { overview } from './overview.ts'
import { parts } from './parts.ts'
import { photos } from './photos.ts'
import { readings } from './readings.ts'
import { wiring } from './wiring.ts'

export const scopes: readonly Scope[] = [overview, parts, wiring, drawing, currents, fuses, journal, photos, readings, findings, costs]

/** Those with a tick of their own. */
export const ticked: readonly Scope[] = scopes.filter((one) => one.goesWith === undefined)
