/** What became of a picture that was handed on. */
export type Shared = 'shared' | 'saved' | 'kept'

/** Hands a picture on. */
export interface Sharing {
  /** Through the device's own way of sharing, else as a file. `kept`: the flyer changed their mind. */
  picture(png: Blob, name: string): Promise<Shared>
}

/** The device's way of sharing; a saved file where there is none. */
export function deviceSharing(device: Partial<Pick<Navigator, 'share' | 'canShare'>> = navigator, page: Document = document): Sharing {
  return {
    picture: async (png, name) => {
      const files = [new File([png], name, { type: png.type })]
      if (device.canShare?.({ files }) && device.share) {
        try {
          await device.share({ files })
          return 'shared'
        } catch (thrown) {
          if (thrown instanceof Error && thrown.name === 'AbortError') return 'kept'
        }
      }
      const address = URL.createObjectURL(png)
      const link = page.createElement('a')
      link.href = address
      link.download = name
      link.click()
      setTimeout(() => {
        URL.revokeObjectURL(address)
      }, 60_000)
      return 'saved'
    },
  }
}

/** A way of sharing that only remembers. */
export function fakeSharing(): Sharing & { handed: { png: Blob; name: string }[] } {
  const handed: { png: Blob; name: string }[] = []
  return {
    handed,
    picture: (png, name) => {
      handed.push({ png, name })
      return Promise.resolve('saved')
    },
  }
}
