import type { Backup } from '../../records/backup.ts'
import { holds, whenIn } from '../shared/backup-words.ts'

export type View = {
  /** empty: nothing is */
  readonly damage: readonly string[]
  readonly last: { readonly name: string; readonly when: string; readonly holds: string } | null
}

const MOST_shown = 20

export function view(given: { readonly damage: string | null; readonly last: Backup | null; readonly timeZone: string }): View {
  const { damage, last } = given
  return {
    damage: damage === null ? [] : sentences(damage).slice(0, MOST_shown),
    last: last && { name: last.name, when: whenIn(given.timeZone)(last.contents.made_at), holds: holds(last) },
  }
}

/** They were kept one after another; a full stop within a name of a file is followed by no space. */
function sentences(text: string): readonly string[] {
  return text.split(/(?<=[.!])\s+/).filter((one) => one !== '')
}
