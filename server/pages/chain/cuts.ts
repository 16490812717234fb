/** What to cut for a chain that is only tried: the conductors it would add. Pure. */
import { linksOf } from '../../drawing/links.ts'
import type { TriedChain } from '../../records/journal.ts'
import { figure } from '../../web/format.ts'
import { type CutLine, cutLines, cutWords, USUAL } from '../shared/cut-lines.ts'

export type Cuts = {
  readonly says: string
  readonly lines: readonly {
    readonly name: string
    readonly crossSection: string
    readonly length: string
    readonly cut: string
    readonly from: string
    readonly to: string
    readonly sleeve: string
  }[]
}

/** By the usual allowance: the chain's form asks for none. */
export function triedLines(seen: Pick<TriedChain, 'changes' | 'document'>): readonly CutLine[] {
  const fitted = new Set(seen.changes.flatMap((change) => (change.kind === 'fitted' ? [change.component.key] : [])))
  return cutLines(linksOf(seen.document), USUAL, fitted)
}

export function triedCuts(seen: Pick<TriedChain, 'changes' | 'document'>): Cuts {
  return {
    says: `Each is cut ${figure(USUAL.share_percent, '%')} longer than said, and ${figure(USUAL.end_mm, 'mm')} more at each end (common practice; measure in the vehicle first).`,
    lines: triedLines(seen).map((line) => ({
      name: line.name,
      crossSection: line.crossSection || 'not known',
      length: line.length_m === null ? 'not known' : figure(line.length_m, 'm'),
      cut: cutWords(line),
      from: line.ends[0].at,
      to: line.ends[1].at,
      sleeve: line.sleeve,
    })),
  }
}
