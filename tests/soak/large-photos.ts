/** Invented photos as large as phones make them: 48 Mpx, of no two the same, half of them progressive, which takes a decoder most. */
import sharp from 'sharp'

const SIDES_px = { width: 8000, height: 6000 } as const

export async function largePhotos(count: number, kind: 'mixed' | 'baseline' = 'mixed'): Promise<readonly Buffer[]> {
  const photos: Buffer[] = []
  for (let n = 0; n < count; n++) photos.push(await largePhoto({ n, isProgressive: isProgressive({ n, kind }) }))
  return photos
}

export function isProgressive({ n, kind }: { readonly n: number; readonly kind: 'mixed' | 'baseline' }): boolean {
  return kind === 'mixed' && n % 2 === 1
}

/** Grain over a colour, so that it is as many bytes as a photo is. Drawn small and made large: grain of 48 Mpx takes long to draw. */
export async function largePhoto(given: { readonly n: number; readonly isProgressive: boolean }): Promise<Buffer> {
  const grain = { type: 'gaussian', mean: 90 + 5 * given.n, sigma: 40 } as const
  const drawn = { width: 2000, height: 1500, channels: 3 } as const
  const small = await sharp({ create: { ...drawn, background: '#888', noise: grain } })
    .raw()
    .toBuffer()
  return sharp(small, { raw: drawn })
    .resize({ ...SIDES_px, kernel: 'nearest' })
    .jpeg({ quality: 85, progressive: given.isProgressive })
    .toBuffer()
}
