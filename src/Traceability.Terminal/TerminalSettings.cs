using System.ComponentModel;
using Spectre.Console.Cli;

namespace Traceability.Terminal;

/// <summary>What every command takes.</summary>
internal class TerminalSettings : CommandSettings
{
    [CommandOption("--url <ADDRESS>")]
    [Description("The service's address; else TRACEABILITY_URL, else http://127.0.0.1:5080.")]
    public string? Url { get; init; }

    [CommandOption("--key-file <FILE>")]
    [Description("File with the access key, which only its owner may read; else the key is in TRACEABILITY_KEY.")]
    public string? KeyFile { get; init; }

    [CommandOption("--outbox <FOLDER>")]
    [Description("Folder of the outbox; else TRACEABILITY_OUTBOX, else one in the home folder.")]
    public string? Outbox { get; init; }

    [CommandOption("--timeout <SECONDS>")]
    [Description("How long one try may take; else 5, and 120 where a scope or a case is asked for.")]
    public int? TimeoutSeconds { get; init; }

    [CommandOption("--json")]
    [Description("Answer with one JSON document, for scripts.")]
    public bool Json { get; init; }

    public Uri Service(TerminalContext context)
    {
        var text = Url ?? context.Variable("TRACEABILITY_URL") ?? "http://127.0.0.1:5080";
        return Uri.TryCreate(text, UriKind.Absolute, out var address) && address.Scheme is "http" or "https"
            ? address
            : throw new NotUnderstoodException($"The service's address is an http or https address, not '{text}'.");
    }

    public string OutboxFolder(TerminalContext context) =>
        Outbox ?? context.Variable("TRACEABILITY_OUTBOX")
        ?? Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.DoNotVerify), "traceability", "outbox");
}

/// <summary>What a command takes that speaks for a station.</summary>
internal class StationSettings : TerminalSettings
{
    [CommandOption("--station <CODE>")]
    [Description("The station; else TRACEABILITY_STATION.")]
    public string? Station { get; init; }

    [CommandOption("--person <CODE>")]
    [Description("The person; else TRACEABILITY_PERSON.")]
    public string? Person { get; init; }

    [CommandOption("--lot <ITEM=LOT>")]
    [Description("A lot used or at hand: ITEM=LOT, with its container ITEM=LOT/CONTAINER; one of several ITEM=LOT,LOT. May be repeated.")]
    public string[] Lots { get; init; } = [];

    [CommandOption("--tool <TOOL>")]
    [Description("A tool: TOOL, with its setting TOOL=SETTING. May be repeated.")]
    public string[] Tools { get; init; } = [];

    [CommandOption("--component <POSITION=ITEM/SERIAL>")]
    [Description("A unit to put in. May be repeated.")]
    public string[] Components { get; init; } = [];

    public string? StationCode(TerminalContext context) => Station ?? context.Variable("TRACEABILITY_STATION");

    public string? PersonCode(TerminalContext context) => Person ?? context.Variable("TRACEABILITY_PERSON");
}

/// <summary>What a command takes by which a person decides on a refused fact.</summary>
internal class DecisionSettings : TerminalSettings
{
    [CommandArgument(0, "<ID>")]
    [Description("The id of the refused fact, or enough of its beginning to tell it.")]
    public required string Id { get; init; }

    [CommandOption("--by <CODE>")]
    [Description("Who decides; else TRACEABILITY_PERSON.")]
    public string? By { get; init; }

    public string Decider(TerminalContext context) =>
        By ?? context.Variable("TRACEABILITY_PERSON") ?? throw new NotUnderstoodException("Who decides? Say --by, or set TRACEABILITY_PERSON.");
}
