import { deviceBattery, type Battery } from './battery'
import { deviceCamera, type Camera } from './camera'
import { deviceClock, type Clock } from './clock'
import { deviceCompass, type Compass } from './compass'
import { deviceHeat, type Heat, type Thermometer } from './heat'
import { deviceMicrophone, type Microphone } from './microphone'
import { coreReceiver, deviceReceiver, orElse, type Fix, type PositionReceiver } from './position'
import { deviceSharing, type SharedFiles, type Sharing } from './sharing'
import { deviceTone, type Tone } from './tone'
import { deviceVibration, type Vibration } from './vibration'
import { deviceWakeLock, windowFlag, type LitScreen, type WakeLock } from './wakelock'

/** Everything of the device that a screen may use. */
export interface Device {
  battery: Battery
  camera: Camera
  clock: Clock
  compass: Compass
  heat: Heat
  microphone: Microphone
  receiver: PositionReceiver
  sharing: Sharing
  tone: Tone
  vibration: Vibration
  wakeLock: WakeLock
}

/** This device; `position` asks the core where this computer is. */
export function thisDevice(position: () => Promise<Fix | null>): Device {
  // Some web views leave these out although the types say that they are always there.
  const { geolocation, mediaDevices, permissions, wakeLock } = navigator as Partial<Navigator>
  const { windfallFiles } = window as { windfallFiles?: SharedFiles }
  const { windfallScreen } = window as { windfallScreen?: LitScreen & Partial<Thermometer> }
  const own = deviceReceiver(geolocation, permissions)
  // The web view of a desktop refuses without asking anybody. A browser asks, and a no stays one; so does a phone, known
  // by its window flag, which has no gpsd.
  const byGpsd = !windfallScreen && (!geolocation || '__TAURI_INTERNALS__' in window)
  return {
    battery: deviceBattery(),
    camera: deviceCamera(mediaDevices),
    clock: deviceClock(),
    compass: deviceCompass(),
    heat: deviceHeat(windfallScreen),
    microphone: deviceMicrophone(mediaDevices),
    receiver: byGpsd ? orElse(own, coreReceiver(position)) : own,
    sharing: deviceSharing(navigator, document, windfallFiles),
    tone: deviceTone(),
    vibration: deviceVibration(),
    wakeLock: deviceWakeLock(windowFlag(windfallScreen) ?? wakeLock),
  }
}
