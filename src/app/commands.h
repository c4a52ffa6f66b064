// One function a subcommand: registers it and its options with the command line, and sets `status` when it runs. Main thread.
#pragma once

namespace CLI {
class App;
}

namespace landfall {

// `status` is the program's exit status: 0 done, 1 failed (one line says why), 2 what the command line says is not understood.
// Of the program without a command, which opens the window.
void addWindow(CLI::App& app, int& status);
void addPractiseCommand(CLI::App& app, int& status);
void addDemoCommand(CLI::App& app, int& status);
void addCheckCommand(CLI::App& app, int& status);
void addDrillsCommand(CLI::App& app, int& status);
void addDevicesCommand(CLI::App& app, int& status);
void addAudioProcessCommand(CLI::App& app, int& status);
void addLogCommand(CLI::App& app, int& status);
void addMarkCommand(CLI::App& app, int& status);
void addTrackCommand(CLI::App& app, int& status);

}  // namespace landfall
