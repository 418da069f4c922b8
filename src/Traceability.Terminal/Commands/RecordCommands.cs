using System.ComponentModel;
using System.Text.Json;
using Spectre.Console.Cli;
using Traceability.Client.Outbox;
using Traceability.Contracts.Facts;

namespace Traceability.Terminal.Commands;

/// <summary>Facts from a file or from standard input.</summary>
internal sealed class RecordCommand(TerminalContext context) : TerminalCommand<RecordCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        // All are read before the first is stored: a file is taken whole or not at all.
        var facts = await ReadAsync(settings.File, cancellation).ConfigureAwait(false);
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        var entries = await Task.WhenAll(facts.Select(outbox.EnqueueJsonAsync)).ConfigureAwait(false);
        return settings.StoreOnly
            ? StoredOnly(settings, entries)
            : await SendAsync(outbox, settings, entries, cancellation).ConfigureAwait(false);
    }

    private async Task<IReadOnlyList<string>> ReadAsync(string? file, CancellationToken cancellation)
    {
        var facts = FactTexts.Split(await Context.ReadAsync(file, cancellation).ConfigureAwait(false));
        return facts.Count > 0 ? facts : throw new NotUnderstoodException("There is no fact in it.");
    }

    private int StoredOnly(Settings settings, IReadOnlyList<OutboxEntry> entries)
    {
        if (settings.Json)
        {
            Context.WriteJson(new { facts = entries });
        }
        else
        {
            Context.Show(FormattableString.Invariant($"{entries.Count} facts stored on this machine."));
        }

        return ExitCodes.StoredOnly;
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandArgument(0, "[FILE]")]
        [Description("JSON facts: one object, an array, or one object a line. Without it, from standard input.")]
        public string? File { get; init; }

        [CommandOption("--store-only")]
        [Description("Store them on this machine and send them later.")]
        public bool StoreOnly { get; init; }
    }
}

/// <summary>A step was completed.</summary>
internal sealed class CompleteCommand(TerminalContext context) : TerminalCommand<CompleteCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        var fact = new StepCompleted
        {
            OccurredAt = settings.At is { } at ? PartTexts.Time(at, "--at") : Context.Time.GetLocalNow(),
            StartedAt = settings.Started is { } started ? PartTexts.Time(started, "--started") : null,
            Station = settings.StationCode(Context),
            Person = settings.PersonCode(Context),
            Unit = new() { Item = settings.Item, Serial = settings.Serial },
            Step = settings.Step,
            IsRework = settings.Rework,
            Materials = PartTexts.Materials(settings.Lots),
            Tools = PartTexts.Tools(settings.Tools),
            Components = PartTexts.Components(settings.Components),
            Measurements = PartTexts.Measurements(settings.Measurements),
            Checks = PartTexts.Checks(settings.Checks),
            Defects = PartTexts.Defects(settings.Defects),
            Note = settings.Note,
        };
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        return await SendAsync(outbox, settings, [await outbox.EnqueueAsync(fact).ConfigureAwait(false)], cancellation).ConfigureAwait(false);
    }

    internal sealed class Settings : StationSettings
    {
        [CommandArgument(0, "<ITEM>")]
        public required string Item { get; init; }

        [CommandArgument(1, "<SERIAL>")]
        public required string Serial { get; init; }

        [CommandArgument(2, "<STEP>")]
        public required string Step { get; init; }

        [CommandOption("--measure <NAME=VALUE>")]
        [Description("A value with its unit: TORQUE=1.20N.m. May be repeated.")]
        public string[] Measurements { get; init; } = [];

        [CommandOption("--check <NAME=pass>")]
        [Description("A check: NAME=pass or NAME=fail. May be repeated.")]
        public string[] Checks { get; init; } = [];

        [CommandOption("--defect <CODE>")]
        [Description("A defect that was seen: CODE, or CODE=COUNT. May be repeated.")]
        public string[] Defects { get; init; } = [];

        [CommandOption("--note <TEXT>")]
        public string? Note { get; init; }

        [CommandOption("--rework")]
        [Description("This attempt redid work.")]
        public bool Rework { get; init; }

        [CommandOption("--started <TIME>")]
        [Description("When it began, with offset.")]
        public string? Started { get; init; }

        [CommandOption("--at <TIME>")]
        [Description("When it was completed, with offset; else now.")]
        public string? At { get; init; }
    }
}

/// <summary>Takes a text with facts apart.</summary>
internal static class FactTexts
{
    /// <summary>One object, an array of objects, or one object a line.</summary>
    public static IReadOnlyList<string> Split(string text)
    {
        ArgumentNullException.ThrowIfNull(text);
        try
        {
            using var whole = JsonDocument.Parse(text);
            return whole.RootElement.ValueKind == JsonValueKind.Array
                ? [.. whole.RootElement.EnumerateArray().Select(Checked)]
                : [Checked(whole.RootElement)];
        }
        catch (JsonException)
        {
            return [.. text.Split('\n').Select((line, i) => (Line: line, Number: i + 1)).Where(l => !string.IsNullOrWhiteSpace(l.Line)).Select(Line)];
        }
    }

    private static string Line((string Line, int Number) line)
    {
        try
        {
            using var document = JsonDocument.Parse(line.Line);
            return Checked(document.RootElement);
        }
        catch (JsonException e)
        {
            throw new NotUnderstoodException(FormattableString.Invariant($"Line {line.Number} is no JSON: {e.Message}"));
        }
    }

    private static string Checked(JsonElement fact) =>
        fact.ValueKind == JsonValueKind.Object && fact.TryGetProperty("type", out _)
            ? fact.GetRawText()
            : throw new NotUnderstoodException("A fact is a JSON object with a type, such as {\"type\":\"step-completed\", …}.");
}
