/** The handover file, section by section, in the order in which somebody who takes over asks. */
import { isDayAlone } from '../../records/masks.ts'
import type { Block, Section } from '../shared/paper.ts'
import type { Facts } from './facts.ts'
import { fuel, identity, loads, sources } from './fitted.ts'
import { changes, notChecked, open, safety, tests } from './recorded.ts'
import { connectors, drawing, protection, switching } from './wired.ts'

export function contentsOf(facts: Facts): readonly Section[] {
  return [identity, open, protection, switching, sources, loads, drawing, connectors, fuel, tests, changes, notChecked, safety].map(
    (section) => masked(section(facts), facts.mask.name),
  )
}

/** A plate or a person can stand in the name of a thing too, and so in every sentence about it. */
function masked(section: Section, name: (text: string) => string): Section {
  return { ...section, blocks: section.blocks.map((block) => maskedBlock(block, (text) => (isDayAlone(text) ? text : name(text)))) }
}

function maskedBlock(block: Block, name: (text: string) => string): Block {
  switch (block.kind) {
    case 'words':
      return { ...block, text: name(block.text) }
    case 'list':
      return { ...block, items: block.items.map(name) }
    case 'facts':
      return { ...block, facts: block.facts.map((fact) => ({ ...fact, value: name(fact.value) })) }
    case 'table':
      return { ...block, caption: name(block.caption), rows: block.rows.map((row) => row.map(name)) }
    case 'entries':
      return { ...block, entries: block.entries.map((entry) => ({ ...entry, title: name(entry.title), lines: entry.lines.map(name) })) }
    case 'drawing':
      // Made from names that were looked through before they were broken over lines.
      return block
  }
}
