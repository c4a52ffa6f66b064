// The command line of the program.
#include <algorithm>
#include <cstdio>
#include <exception>
#include <string>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/system/printable.h"

int main(int argc, char** argv) {
    CLI::App app{"Landfall measures how guitar bends and slides land. Without a command it opens its window."};
    app.name("landfall");
    app.require_subcommand(0, 1);
    app.failure_message([](const CLI::App*, const CLI::Error& error) {
        return "landfall: " + std::string(error.what()) + " (landfall --help and landfall COMMAND --help list what there is)\n";
    });
    int status = 0;
    landfall::addWindow(app, status);
    landfall::addPractiseCommand(app, status);
    landfall::addDemoCommand(app, status);
    landfall::addDrillsCommand(app, status);
    landfall::addDevicesCommand(app, status);
    landfall::addAudioProcessCommand(app, status);
    landfall::addLogCommand(app, status);
    landfall::addMarkCommand(app, status);
    landfall::addCheckCommand(app, status);
    landfall::addTrackCommand(app, status);
    const auto commands = app.get_subcommands([](const CLI::App*) { return true; });
    if (argc > 1 && argv[1][0] != '-' &&
        std::none_of(commands.begin(), commands.end(), [&](const CLI::App* command) { return command->get_name() == argv[1]; })) {
        fmt::print(stderr, "landfall: there is no command '{}' (landfall --help lists what there is)\n", landfall::printable(argv[1]));
        return 2;
    }
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? 0 : 2;
    } catch (const std::exception& error) {  // a stream or a folder that gives way in mid-work
        return landfall::fail({landfall::Error::Code::failed, error.what()});
    }
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0)
        return landfall::fail({landfall::Error::Code::unwritable, "what was to be printed could not be written: is the disk full?"});
    return status;
}
