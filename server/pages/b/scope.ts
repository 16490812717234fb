/** The shape of one page of a build page. A further one is its file here beside, its template, and its line in the list. */
import type { Drawings } from '../../drawing/drawings.ts'
import type { Db } from '../../records/database.ts'
import type { OpenShare } from '../../records/shares.ts'

export type Preset = 'buyer' | 'workshop'

export type Given = {
  readonly db: Db
  readonly drawings: Drawings
  readonly share: OpenShare
  /** YYYY-MM-DD */
  readonly today: string
  /** address of another page of the same build page, or of a file on it; '' is its first page */
  readonly link: (to: string, query?: Readonly<Record<string, string>>) => string
  readonly query: Readonly<Record<string, unknown>>
}

export type Scope = {
  /** a word of the address, and the name of its tick */
  readonly id: string
  readonly title: string
  /** what its tick lets through, for the owner */
  readonly says: string
  /** the page whose tick lets this one through too; without it the page has a tick of its own */
  readonly goesWith?: string
  /** what the form ticks to begin with */
  readonly presets: readonly Preset[]
  readonly template: string
  /** further style sheets, such as that of what is printed to a measure */
  readonly styles?: readonly string[]
  /**
   * Every string the template prints, from `records/build-page.ts` and nothing else. Keys called `href` and `src` hold addresses; every other
   * string is looked through once more for what is private before it is printed. A key called `svg` holds a drawing made from names that
   * were looked through before: its figures are left as they are.
   */
  readonly view: (given: Given) => object | Promise<object>
}

export function defineScope(scope: Scope): Scope {
  return scope
}
