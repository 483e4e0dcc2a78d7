import { deviceBattery, type Battery } from './battery'
import { deviceCamera, type Camera } from './camera'
import { deviceClock, type Clock } from './clock'
import { deviceCompass, type Compass } from './compass'
import { deviceMicrophone, type Microphone } from './microphone'
import { coreReceiver, deviceReceiver, orElse, type Fix, type PositionReceiver } from './position'
import { deviceSharing, type Sharing } from './sharing'
import { deviceTone, type Tone } from './tone'
import { deviceVibration, type Vibration } from './vibration'
import { deviceWakeLock, windowFlag, type LitScreen, type WakeLock } from './wakelock'

/** Everything of the device that a screen may use. */
export interface Device {
  battery: Battery
  camera: Camera
  clock: Clock
  compass: Compass
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
  const { geolocation, mediaDevices, wakeLock } = navigator as Partial<Navigator>
  const { windfallScreen } = window as { windfallScreen?: LitScreen }
  const own = deviceReceiver(geolocation)
  // The web view of a desktop refuses without asking anybody. A phone, known by its window flag, asks and has no gpsd.
  const inWindow = '__TAURI_INTERNALS__' in window
  return {
    battery: deviceBattery(),
    camera: deviceCamera(mediaDevices),
    clock: deviceClock(),
    compass: deviceCompass(),
    microphone: deviceMicrophone(mediaDevices),
    receiver: windfallScreen ? own : orElse(own, coreReceiver(position), !inWindow),
    sharing: deviceSharing(),
    tone: deviceTone(),
    vibration: deviceVibration(),
    wakeLock: deviceWakeLock(windowFlag(windfallScreen) ?? wakeLock),
  }
}
