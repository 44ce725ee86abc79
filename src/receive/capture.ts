/** Captures: every received message in a file, to be run again later (contract, section 4). */
export { CaptureError } from './capture-error.js'
export { readCapture } from './capture-read.js'
export { type Capture, type CaptureOptions, openCapture } from './capture-write.js'
