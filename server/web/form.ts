/** What a form sends: read field by field; blanks are not zero; faults name their field and keep what was typed. */

export type FormFault = { readonly field: string; readonly says: string }
export type Body = Readonly<Record<string, unknown>>

/** One read of a form: ask it for fields, then look at `faults`. */
export class FormReader {
  readonly body: Body
  readonly faults: FormFault[] = []
  constructor(body: unknown) {
    this.body = typeof body === 'object' && body !== null ? (body as Body) : {}
  }

  /** The text of a field, trimmed; an empty string where blank. A repeated field is refused. */
  text(field: string, given: { readonly max?: number; readonly required?: string } = {}): string {
    const value = this.body[field]
    if (Array.isArray(value)) {
      this.fault(field, 'This came twice.')
      return ''
    }
    const text = typeof value === 'string' ? value.trim() : ''
    if (text.includes('\u0000')) this.fault(field, 'This holds a character that cannot be kept.')
    if (text.length > (given.max ?? 10_000)) this.fault(field, `At most ${given.max ?? 10_000} characters; this has ${text.length}.`)
    if (text === '' && given.required !== undefined) this.fault(field, given.required)
    return text
  }

  /** A number or null where blank. "1,5" and "1.5" are one and a half; "1,234" and "1.234,5" are refused, not guessed. */
  number(
    field: string,
    given: { readonly min?: number; readonly max?: number; readonly whole?: boolean; readonly aboveZero?: boolean } = {},
  ): number | null {
    const text = this.text(field, { max: 40 })
    if (text === '') return null
    if (/^\d{1,3},\d{3}$/.test(text))
      return this.fault(field, `“${text}” could be one or a thousand times that: write it without the comma.`)
    if (!/^[+-]?\d+([.,]\d+)?$/.test(text)) return this.fault(field, `“${text}” is not a plain number such as 12 or 1.5.`)
    const value = Number(text.replace(',', '.'))
    if (given.whole && !Number.isInteger(value)) return this.fault(field, 'Whole numbers only.')
    if (given.aboveZero && value <= 0) return this.fault(field, 'This must be above zero.')
    if (given.min !== undefined && value < given.min) return this.fault(field, `At least ${given.min}.`)
    if (given.max !== undefined && value > given.max) return this.fault(field, `At most ${given.max}.`)
    return value
  }

  /** A day as YYYY-MM-DD that exists, not after `latest`. */
  date(field: string, given: { readonly latest: string }): string {
    const text = this.text(field, { max: 40, required: 'Which day? As YYYY-MM-DD.' })
    if (text === '') return given.latest
    const found = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text)
    if (!found) {
      this.fault(field, `“${text}” is not a day as YYYY-MM-DD.`)
      return given.latest
    }
    const [year, month, day] = found.slice(1).map(Number) as [number, number, number]
    const lengths = [31, year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    if (year < 1900 || month < 1 || month > 12 || day < 1 || day > (lengths[month - 1] as number))
      this.fault(field, `There is no ${text} in the calendar.`)
    else if (text > given.latest) this.fault(field, `${text} is still to come; today is ${given.latest}.`)
    return text
  }

  choice<T extends string>(field: string, options: readonly T[], otherwise: T): T {
    const text = this.text(field)
    if (text === '') return otherwise
    if ((options as readonly string[]).includes(text)) return text as T
    this.fault(field, `“${text.slice(0, 40)}” is not one of the choices.`)
    return otherwise
  }

  /** A tick box. */
  ticked(field: string): boolean {
    return this.typed(field) !== ''
  }

  fault(field: string, says: string): null {
    this.faults.push({ field, says })
    return null
  }

  /** What was typed in a field, to show again. */
  typed(field: string): string {
    const value = this.body[field]
    const first: unknown = Array.isArray(value) ? value[0] : value
    return typeof first === 'string' ? first : ''
  }
}
