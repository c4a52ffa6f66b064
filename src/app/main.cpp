// The command line of the program: every command with its options. The parser is the slowest header to compile, so only
// this file includes it.
#include <algorithm>
#include <cstdio>
#include <exception>
#include <memory>
#include <string>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/audio/audio_process.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// What the window and `practise` are both told of the input and of whose tries these are.
void addPlaying(CLI::App& command, SourceWish& source, SittingWish& sitting, bool& keepTakes) {
    command.add_option("--device", source.device,
                       "input device, or a part of its name (default: the settings', else the system's)");
    command
        .add_option("--channel", source.channel, "input channel, from 1 (default: the settings', or a file's first)")
        ->check(CLI::Range(1, 64));
    command.add_option("--rate", source.rate, "sample rate in Hz (default: the device's own)")
        ->check(CLI::Range(16000, 192000));
    command.add_option("--frames", source.frames, "samples a block (default: the settings')")
        ->check(CLI::Range(64, 512));
    command.add_option("--seed", source.seed, "of the simulated student")->capture_default_str();
    command.add_option("--student", sitting.student, "whose tries these are");
    command.add_option("--log", sitting.log, "log file");
    command.add_flag("--keep-takes", keepTakes, "keep the sound of every try as FLAC");
}

// Each registers a command and its options, and sets `status` when it runs.
void addWindow(CLI::App& app, int& status) {
    auto options = std::make_shared<WindowOptions>();
    app.add_option("--drill", options->drill, "to begin with: a built-in drill's name or a drill file")
        ->capture_default_str();
    app.add_option(
        "--input", options->source.input,
        "device, simulated, or a sound file (default: the settings'; without a device the simulated player)");
    addPlaying(app, options->source, options->sitting, options->keepTakes);
    app.add_option("--pace", options->source.pace, "of the simulated student, so many times real time")
        ->check(CLI::Range(0.1, 20.0))
        ->check(isFinite)
        ->capture_default_str();
    app.add_option("--size", options->size,
                   "of the window, in pixels; a display with a factor of its own gets so many times more")
        ->capture_default_str()
        ->check(isWindowSize, "WIDTHxHEIGHT");
    app.add_flag("--heavy", options->heavy, "ask for two-step bends and full steps over 20 N too");
    // For tests and reports of faults; an empty group keeps them out of the help.
    app.add_option("--words", options->words, "a file for the words of every frame")->group("");
    app.add_option("--stall", options->stall, "every 5 s the window's thread stands still so long")
        ->check(CLI::Range(0.0, 60.0))
        ->group("");
    app.callback([&app, options, &status] {
        if (app.get_subcommands().empty()) status = openWindow(*options);
    });
}

void addPractiseCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<PractiseOptions>();
    CLI::App* command = app.add_subcommand(
        "practise", "Play a drill, every try marked as it lands and logged; or a phrase, marked after each pass");
    CLI::Option* drill =
        command->add_option("DRILL", options->drill, "a built-in drill's name or a drill file")->capture_default_str();
    CLI::Option* phrase = command
                              ->add_option("--phrase", options->phrase,
                                           "a phrase's title, or a .musicxml file: the line, pass after pass")
                              ->excludes(drill);
    command->add_option("--input", options->source.input, "device, simulated, or a sound file")->capture_default_str();
    addPlaying(*command, options->source, options->sitting, options->keepTakes);
    command->add_option("--aim", options->sitting.aim, "tolerance in cents")
        ->check(CLI::Range(3.0, 100.0))
        ->check(isFinite);
    command
        ->add_option_function<std::string>(
            "--target", [options](const std::string& name) { options->sitting.target = *targetNamed(name); },
            "concert, 'start note' or 'own guitar'")
        ->check(isTarget);
    command->add_option("--tries", options->mostTries, "end after so many tries")->check(CLI::Range(1, 1000000));
    command->add_flag("--skip-check", options->skipCheck, "no string check");
    command->add_flag("--heavy", options->heavy,
                      "ask for two-step bends, full steps on wound strings and those over 20 N too");
    command->add_flag("--no-tone", options->noTone, "do not sound the target note");
    command->add_flag("--unpaced", options->unpaced,
                      "the simulated student plays faster than real time, without rests");
    for (const char* ofDrills : {"--seed", "--target", "--tries", "--heavy", "--keep-takes", "--no-tone", "--unpaced"})
        phrase->excludes(command->get_option(ofDrills));
    command->callback([options, &status] { status = runPractise(*options); });
}

void addDemoCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<DemoOptions>();
    CLI::App* command = app.add_subcommand("demo", "A simulated student plays three drills through the whole chain");
    command->add_option("--seed", options->seed, "of the simulated student")->capture_default_str();
    command->add_option("--tries", options->tries, "tries a drill")->check(CLI::Range(1, 24))->capture_default_str();
    command->add_option("--student", options->sitting.student, "whose name the tries are logged under")
        ->capture_default_str();
    command->add_option("--log", options->sitting.log, "log file");
    command->callback([options, &status] { status = runDemo(*options); });
}

void addDrillsCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<DrillsOptions>();
    CLI::App* command = app.add_subcommand("drills", "List the drills, or explain one");
    CLI::Option* name = command->add_option("DRILL", options->drill, "a drill's name, or a drill file");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    command->add_flag("--file", options->file, "print the drill's file, to start one of your own from")
        ->needs(name)
        ->excludes(json);
    command->add_option("--tuning", options->tuning, "the guitar's tuning, or its notes from the lowest string")
        ->capture_default_str();
    command->add_option("--capo", options->capo, "fret of the capo, 0 for none")->capture_default_str();
    command->add_option("--frets", options->frets, "highest fret of the neck")->capture_default_str();
    command->callback([options, &status] { status = runDrills(*options); });
}

void addPhrasesCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<PhrasesOptions>();
    CLI::App* command = app.add_subcommand("phrases", "List the phrases, print one move by move, or write it as MIDI");
    CLI::Option* name = command->add_option("PHRASE", options->phrase, "a phrase's title, or a .musicxml file");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    CLI::Option* file =
        command->add_flag("--file", options->file, "print the score of a built-in phrase")->needs(name)->excludes(json);
    CLI::Option* midi = command->add_option("--midi", options->midi, "a Standard MIDI File to write")
                            ->needs(name)
                            ->excludes(json)
                            ->excludes(file);
    command->add_option("--tempo", options->tempo, "of the MIDI file, quarters a minute (default: the score's)")
        ->needs(midi)
        ->check(CLI::Range(10.0, 400.0))
        ->check(isFinite);
    command->callback([options, &status] { status = runPhrases(*options); });
}

void addDevicesCommand(CLI::App& app, int& status) {
    CLI::App* command = app.add_subcommand("devices", "List the sound devices there are");
    auto json = std::make_shared<bool>(false);
    command->add_flag("--json", *json, "as one JSON object");
    command->callback([json, &status] { status = runDevices(*json); });
}

void addAudioProcessCommand(CLI::App& app, int& status) {
    CLI::App* command =
        app.add_subcommand("audio-process", "The process that holds the sound device; started by the program itself");
    command->group("");
    command->callback([&status] { status = runAudioProcess(); });
}

void addLogCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<LogOptions>();
    CLI::App* command = app.add_subcommand("log", "List the sittings in the log, or print one");
    CLI::Option* sitting = command->add_option("SITTING", options->sitting, "a sitting's number, or last");
    command->add_option("--log", options->log, "the log's file")->type_name("FILE");
    command->add_option("--student", options->student, "only this student's sittings")
        ->type_name("NAME")
        ->excludes(sitting);
    CLI::Option* csv = command->add_flag("--csv", options->csv, "print CSV (RFC 4180)");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON")->excludes(csv);
    CLI::Option* strikeOption =
        command->add_option("--strike", options->strike, "strike a try: it stays and is not counted")->type_name("TRY");
    CLI::Option* restoreOption = command->add_option("--restore", options->restore, "count a struck try again")
                                     ->type_name("TRY")
                                     ->excludes(strikeOption);
    for (CLI::Option* change : {strikeOption, restoreOption}) change->excludes(sitting)->excludes(csv)->excludes(json);
    command->callback([options, &status] { status = runLog(*options); });
}

void addMarkCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<MarkOptions>();
    CLI::App* command = app.add_subcommand("mark", "Mark how bends and slides landed in a recording");
    command->add_option("TAKE", options->take, "sound file")->required();
    CLI::Option_group* asked = command->add_option_group("moves", "what was to be played");
    asked
        ->add_option("--move", options->moves,
                     "GESTURE:FROM:TO, for example bend:D4:E4, or any:D4:E4 for a bend or a slide as it is heard; "
                     "several in time order")
        ->expected(1)
        ->take_all();
    asked->add_option("--drill", options->drill, "a drill's name or file: its moves, try after try");
    CLI::Option* phrase =
        asked->add_option("--phrase", options->phrase, "a phrase's title or MusicXML file: its moves in a row");
    asked->require_option(1);
    command->add_option("--tempo", options->tempo, "for --phrase: the tempo aimed at, in quarters a minute")
        ->check(CLI::Range(20.0, 400.0))
        ->check(isFinite)
        ->needs(phrase);
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    command->add_flag("--summary", options->summary, "print a table (the default)")->excludes(json);
    command
        ->add_option("--target", options->target,
                     "what a landing is held against: concert, 'start note' or 'own guitar'")
        ->check(isTarget)
        ->capture_default_str();
    command->add_option("--a4", options->a4, "frequency of A4 in Hz")
        ->check(CLI::Range(430.0, 450.0))
        ->check(isFinite)
        ->capture_default_str();
    command->add_option("--aim", options->aim, "tolerance in cents")
        ->check(CLI::Range(1.0, 100.0))
        ->check(isFinite)
        ->capture_default_str();
    command->add_option("--channel", options->channel, "channel, from 1")
        ->check(CLI::Range(1, 64))
        ->capture_default_str();
    command
        ->add_option("--tuning", options->tuning,
                     "for --drill: the guitar's tuning, or its notes from the lowest string")
        ->capture_default_str();
    command->add_option("--capo", options->capo, "for --drill: fret of the capo, 0 for none")->capture_default_str();
    command->add_option("--frets", options->frets, "for --drill: highest fret of the neck")->capture_default_str();
    // A phrase says its own notes, and is held against concert pitch.
    for (const char* ofTries : {"--target", "--aim", "--tuning", "--capo", "--frets"})
        phrase->excludes(command->get_option(ofTries));
    command->callback([options, &status] { status = runMark(*options); });
}

void addCheckCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<CheckOptions>();
    CLI::App* command =
        app.add_subcommand("check", "Say what is here: version, settings, input device and its latency, log");
    command->add_option("--log", options->log, "log file");
    CLI::Option* tone =
        command->add_flag("--tone", options->tone, "play a test tone, quiet at first, where the target note is played");
    command->add_option("--device", options->device, "for --tone: the input device, or a part of its name")
        ->needs(tone);
    command
        ->add_option("--output", options->output,
                     "for --tone: the output device (default: the settings', else the input's own)")
        ->needs(tone);
    command->add_option("--rate", options->rate, "for --tone: sample rate in Hz (default: the device's own)")
        ->check(CLI::Range(16000, 192000))
        ->needs(tone);
    command->callback([options, &status] { status = runCheck(*options); });
}

void addTrackCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<TrackOptions>();
    CLI::App* command = app.add_subcommand("track", "Print the pitch frames of a sound file as CSV");
    command->add_option("TAKE", options->take, "sound file")->required();
    command->add_option("--stream", options->stream, "which stream")
        ->check(CLI::IsMember({"provisional", "settled"}))
        ->capture_default_str();
    command->add_option("--channel", options->channel, "channel, from 1")->capture_default_str();
    command->callback([options, &status] { status = runTrack(*options); });
}

}  // namespace

}  // namespace landfall

int main(int argc, char** argv) {
    CLI::App app{"Landfall measures how guitar bends and slides land. Without a command it opens its window."};
    app.name("landfall");
    app.require_subcommand(0, 1);
    app.failure_message([](const CLI::App*, const CLI::Error& error) {
        return "landfall: " + landfall::printable(error.what())
               + " (landfall --help and landfall COMMAND --help list what there is)\n";
    });
    int status = 0;
    landfall::addWindow(app, status);
    landfall::addPractiseCommand(app, status);
    landfall::addDemoCommand(app, status);
    landfall::addDrillsCommand(app, status);
    landfall::addPhrasesCommand(app, status);
    landfall::addDevicesCommand(app, status);
    landfall::addAudioProcessCommand(app, status);
    landfall::addLogCommand(app, status);
    landfall::addMarkCommand(app, status);
    landfall::addCheckCommand(app, status);
    landfall::addTrackCommand(app, status);
    const auto commands = app.get_subcommands([](const CLI::App*) { return true; });
    if (argc > 1 && argv[1][0] != '-' && std::none_of(commands.begin(), commands.end(), [&](const CLI::App* command) {
            return command->get_name() == argv[1];
        })) {
        fmt::print(stderr, "landfall: there is no command '{}' (landfall --help lists what there is)\n",
                   landfall::printable(argv[1]));
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
        return landfall::fail(
            {landfall::Error::Code::unwritable, "what was to be printed could not be written: is the disk full?"});
    return status;
}
