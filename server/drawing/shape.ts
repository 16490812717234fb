/** What a symbol is made of. Units are the drawing's own: 1000 of them are the width of a sheet; y grows downwards. */

/** Where a wire may be joined: on the left or right edge of the body, `y` from its top. */
export type Port = { readonly name: string; readonly side: 'left' | 'right'; readonly y: number; readonly label: string }

export type Shape = {
  readonly width: number
  readonly height: number
  readonly ports: readonly Port[]
  /** path data of the lines, of what is filled, and of dashed lines */
  readonly lines: string
  readonly filled: string
  readonly dashed: string
  readonly letters: readonly { readonly x: number; readonly y: number; readonly text: string }[]
}

/** Names of ports where the feed comes in, and of the others. */
export type Sides = { readonly left: readonly string[]; readonly right: readonly string[] }

export function shape(given: Partial<Shape> & Pick<Shape, 'width' | 'height'>): Shape {
  return { ports: [], lines: '', filled: '', dashed: '', letters: [], ...given }
}

export function port(name: string, side: Port['side'], y: number, label = ''): Port {
  return { name, side, y, label }
}

/** A circle as path data. */
export function circle(x: number, y: number, r: number): string {
  return `M${x - r} ${y}a${r} ${r} 0 1 1 ${2 * r} 0a${r} ${r} 0 1 1 ${-2 * r} 0z`
}

/** A rectangle as path data. */
export function box(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}h${width}v${height}h${-width}z`
}
