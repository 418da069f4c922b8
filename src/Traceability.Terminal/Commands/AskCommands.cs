using System.ComponentModel;
using System.Globalization;
using Spectre.Console;
using Spectre.Console.Cli;
using Traceability.Contracts;
using Traceability.Contracts.Scope;

namespace Traceability.Terminal.Commands;

/// <summary>May this unit start this step here, now?</summary>
internal sealed class MayStartCommand(TerminalContext context) : TerminalCommand<MayStartCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        var question = new ReadinessQuestion
        {
            Station = settings.StationCode(Context),
            Person = settings.PersonCode(Context),
            Materials = PartTexts.Materials(settings.Lots),
            Tools = PartTexts.Tools(settings.Tools),
            Components = PartTexts.Components(settings.Components),
        };
        using var client = Context.Client(settings);
        var answer = await client.AskReadinessAsync(new() { Item = settings.Item, Serial = settings.Serial }, settings.Step, question, cancellation).ConfigureAwait(false);
        if (settings.Json)
        {
            Context.WriteJson(answer);
        }
        else
        {
            Show(answer);
        }

        return answer.Answer switch
        {
            ReadinessVerdict.Go => ExitCodes.Done,
            ReadinessVerdict.Wait => ExitCodes.Wait,
            _ => ExitCodes.No,
        };
    }

    // Cautions first: they are read before anything is begun.
    private void Show(ReadinessAnswer answer)
    {
        foreach (var caution in answer.Cautions)
        {
            Context.Screen.MarkupLineInterpolated($"[black on yellow] CAUTION [/] {caution}");
        }

        var until = answer.WaitUntil is { } at ? $" until {Sentences.Time(at.ToLocalTime())}" : string.Empty;
        Context.Show($"{answer.Answer.ToString().ToUpperInvariant()}{until}  {answer.Unit.Item} {answer.Unit.Serial} {answer.Step}, attempt {answer.Attempt}, revision {answer.Revision ?? "none"}");
        foreach (var reason in answer.Reasons)
        {
            Context.Show($"  {(reason.Enforcement == Contracts.Facts.Enforcement.Stop ? "stop" : "told")} {reason.Kind}: {reason.Message}");
        }
    }

    internal sealed class Settings : StationSettings
    {
        [CommandArgument(0, "<ITEM>")]
        public required string Item { get; init; }

        [CommandArgument(1, "<SERIAL>")]
        public required string Serial { get; init; }

        [CommandArgument(2, "<STEP>")]
        public required string Step { get; init; }
    }
}

/// <summary>One unit as it stands now.</summary>
internal sealed class UnitCommand(TerminalContext context) : TerminalCommand<UnitCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        using var client = Context.Client(settings);
        var key = new Contracts.Facts.UnitRef { Item = settings.Item, Serial = settings.Serial };
        if (settings.Record)
        {
            // Everything that was recorded is too much for a screen; a document it is, either way.
            Context.WriteJson(await client.GetBuildRecordAsync(key, cancellation).ConfigureAwait(false));
            return ExitCodes.Done;
        }

        var view = await client.GetUnitAsync(key, cancellation).ConfigureAwait(false);
        if (settings.Json)
        {
            Context.WriteJson(view);
            return ExitCodes.Done;
        }

        var unit = view.Unit;
        Context.Show($"{unit.Item} {unit.Serial}{(unit.Variant is { } v ? " variant " + v : string.Empty)}, revision {unit.Revision ?? "none"}: {unit.Place} since {Sentences.Time(unit.Since)}{(unit.Consignee is { } c ? " to " + c : string.Empty)}");
        if (unit.HasUnreadable)
        {
            Context.Show("A stored record of it can't be read: what is said here may be incomplete.");
        }

        var table = new Table().AddColumns("Step", "Attempt", "Completed", "Station", "Person", "Passed");
        foreach (var step in view.Steps)
        {
            table.AddRow(new[] { step.Step, step.Attempt.ToString(CultureInfo.InvariantCulture), Sentences.Time(step.CompletedAt), step.Station ?? string.Empty, step.Person ?? string.Empty, step.Passed ? "yes" : "NO" }.Select(Markup.Escape).ToArray());
        }

        Context.Screen.Write(table);
        view.Findings.ToList().ForEach(f => Context.Show($"{f.Step} {Sentences.Of(f)}"));
        Context.Show($"Next: {string.Join(", ", view.NextSteps)}");
        return ExitCodes.Done;
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandArgument(0, "<ITEM>")]
        public required string Item { get; init; }

        [CommandArgument(1, "<SERIAL>")]
        public required string Serial { get; init; }

        [CommandOption("--record")]
        [Description("The whole build record, as JSON.")]
        public bool Record { get; init; }
    }
}

/// <summary>Which units carry a lot.</summary>
internal sealed class CarriersCommand(TerminalContext context) : TerminalCommand<CarriersCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        using var client = Context.Client(settings);
        List<ScopeAnswer> pages = [];
        await foreach (var page in client.GetWholeScopeAsync(new() { Item = settings.Item, Lot = settings.Lot }, settings.Container, cancellation: cancellation).ConfigureAwait(false))
        {
            pages.Add(page);
        }

        var (first, members) = (pages[0], pages.SelectMany(p => p.Members).ToList());
        if (settings.Json)
        {
            Context.WriteJson(first with { Members = members, After = null });
            return first.Completeness.IsComplete ? ExitCodes.Done : ExitCodes.Incomplete;
        }

        if (ScopeCommand.Lacks(first.Completeness) is { Length: > 0 } lacks)
        {
            Context.Show(lacks);
        }

        first.Remarks.ToList().ForEach(r => Context.Show(r));
        Context.Show(string.Create(CultureInfo.InvariantCulture, $"{first.Totals.Members} units: {first.Totals.Proven} proven, {first.Totals.Possible} possible; {first.Totals.Cleared} cleared. As of {Sentences.Time(first.AsOf)}"));
        Tables.Write(
            Context,
            ["Item", "Serial", "Verdict", "Now", "Place", "Consignee", "Why"],
            members.Select(m => new[] { m.Item, m.Serial, m.Verdict, m.Now, m.Whereabouts.Place, m.Whereabouts.Consignee ?? string.Empty, m.Reason }));
        return first.Completeness.IsComplete ? ExitCodes.Done : ExitCodes.Incomplete;
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandArgument(0, "<ITEM>")]
        public required string Item { get; init; }

        [CommandArgument(1, "<LOT>")]
        public required string Lot { get; init; }

        [CommandArgument(2, "[CONTAINER]")]
        [Description("Only this container of the lot.")]
        public string? Container { get; init; }
    }
}

/// <summary>How far this machine's clock is off the service's.</summary>
internal sealed class ClockCommand(TerminalContext context) : TerminalCommand<TerminalSettings>(context)
{
    protected override async Task<int> RunAsync(TerminalSettings settings, CancellationToken cancellation)
    {
        using var client = Context.Client(settings);
        for (var i = 0; i < 4; i++)
        {
            await client.MeasureClockAsync(cancellation).ConfigureAwait(false);
            await Task.Delay(TimeSpan.FromMilliseconds(260), Context.Time, cancellation).ConfigureAwait(false);
        }

        var offset = await client.MeasureClockAsync(cancellation).ConfigureAwait(false) ?? throw new NotUnderstoodException("The service's answers tell no time.");
        if (settings.Json)
        {
            Context.WriteJson(new { offsetSeconds = offset.Offset.TotalSeconds, uncertaintySeconds = offset.Uncertainty.TotalSeconds, offset.MeasuredAt });
        }
        else
        {
            var direction = offset.Offset > TimeSpan.Zero ? "behind" : "ahead of";
            Context.Show(string.Create(CultureInfo.InvariantCulture, $"This machine's clock is {offset.Offset.Duration().TotalSeconds:F1} s {direction} the service's, give or take {offset.Uncertainty.TotalSeconds:F1} s."));
        }

        return ExitCodes.Done;
    }
}
