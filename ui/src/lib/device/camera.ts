/** The picture of the rear camera, shown and never kept. */
export interface Camera {
  /** Shows what the camera sees on `video`. Rejects where there is none or it is not allowed. Returns what ends it. */
  show(video: HTMLVideoElement): Promise<() => void>
}

/** The long side of a phone camera's picture covers about so many degrees. Common practice, no source. */
const LONG_SIDE_DEG = 66

/**
 * Where a direction shows on a picture that fills its frame, and how wide an angle becomes there.
 *
 * Units: frame and picture in any unit of length, `turn_deg` to the right of the middle. Returns the distance from the
 * middle of the frame, right positive, in the unit of the frame; null for what lies behind.
 */
export function across(turn_deg: number, frame: { width: number; height: number }, picture: { width: number; height: number } | null): number | null {
  if (Math.abs(turn_deg) >= 80) return null
  const own = picture && picture.width > 0 && picture.height > 0 ? picture : frame
  // As `object-fit: cover` scales it.
  const scale = Math.max(frame.width / own.width, frame.height / own.height)
  const focal = (scale * Math.max(own.width, own.height)) / 2 / Math.tan((LONG_SIDE_DEG * Math.PI) / 360)
  return focal * Math.tan((turn_deg * Math.PI) / 180)
}

/** The camera of the device. */
export function deviceCamera(devices: { getUserMedia(wanted: MediaStreamConstraints): Promise<MediaStream> } | undefined): Camera {
  return {
    show: async (video) => {
      if (!devices) throw new Error('no camera')
      const stream = await devices.getUserMedia({ video: { facingMode: { ideal: 'environment' } }, audio: false })
      video.srcObject = stream
      // Muted and without controls it may play without being asked for.
      void video.play().catch(() => undefined)
      return () => {
        for (const track of stream.getTracks()) track.stop()
        video.srcObject = null
      }
    },
  }
}

/** A camera that is there or is not. */
export function fakeCamera(isThere = true): Camera & { shown: number } {
  const it = {
    shown: 0,
    show: () => {
      if (!isThere) return Promise.reject(new Error('no camera'))
      it.shown++
      return Promise.resolve(() => {
        it.shown--
      })
    },
  }
  return it
}
