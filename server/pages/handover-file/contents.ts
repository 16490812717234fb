/** The handover file, section by section, in the order in which somebody who takes over asks. */
import { isDayAlone } from '../../records/masks.ts'
import { eachInTurn, othersGoFirst } from '../../records/turns.ts'
import type { Block, Section } from '../shared/paper.ts'
import type { Facts } from './facts.ts'
import { fuel, identity, loads, sources } from './fitted.ts'
import { changes, notChecked, open, safety, tests } from './recorded.ts'
import { connectors, drawing, protection, switching } from './wired.ts'

const ALL = [identity, open, protection, switching, sources, loads, drawing, connectors, fuel, tests, changes, notChecked, safety]

/** A journal of twenty years is long: whoever asks for another page meanwhile goes first. */
export async function contentsOf(facts: Facts): Promise<readonly Section[]> {
  const sections: Section[] = []
  for (const section of ALL) {
    sections.push(await masked(await section(facts), facts.mask.name))
    await othersGoFirst()
  }
  return sections
}

/** A plate or a person can stand in the name of a thing too, and so in every sentence about it. */
async function masked(section: Section, name: (text: string) => string): Promise<Section> {
  const blocks: Block[] = []
  for (const block of section.blocks) blocks.push(await maskedBlock(block, (text) => (isDayAlone(text) ? text : name(text))))
  return { ...section, blocks }
}

async function maskedBlock(block: Block, name: (text: string) => string): Promise<Block> {
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
      return {
        ...block,
        entries: await eachInTurn(block.entries, (entry) => ({ ...entry, title: name(entry.title), lines: entry.lines.map(name) })),
      }
    case 'drawing':
      // Made from names that were looked through before they were broken over lines.
      return block
  }
}
