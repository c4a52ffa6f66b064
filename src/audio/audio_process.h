// The process that holds the audio library: started by AudioDevice or listDevices, and ended or killed by them. Main
// thread of that process.
#pragma once

namespace landfall {

// Reads its wish from the memory its parent shares with it. The exit status: 0 ended as asked, 1 failed (the shared
// answer says why).
int runAudioProcess();

}  // namespace landfall
