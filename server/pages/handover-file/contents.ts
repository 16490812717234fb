/** The handover file, section by section, in the order in which somebody who takes over asks. */
import type { Section } from '../shared/paper.ts'
import type { Facts } from './facts.ts'
import { fuel, identity, loads, sources } from './fitted.ts'
import { changes, notChecked, open, safety, tests } from './recorded.ts'
import { connectors, drawing, protection, switching } from './wired.ts'

export function contentsOf(facts: Facts): readonly Section[] {
  return [identity, open, protection, switching, sources, loads, drawing, connectors, fuel, tests, changes, notChecked, safety].map(
    (section) => section(facts),
  )
}
