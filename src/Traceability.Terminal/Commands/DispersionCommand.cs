using System.ComponentModel;
using System.Globalization;
using Spectre.Console.Cli;
using Traceability.Contracts.Dispersion;

namespace Traceability.Terminal.Commands;

/// <summary>How widely lots are spread over finished units.</summary>
internal sealed class DispersionCommand(TerminalContext context) : TerminalCommand<DispersionCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        using var client = Context.Client(settings, timeoutSeconds: ScopeCommand.TimeoutSeconds);
        if (settings is { Item: { } item, Lot: { } lot })
        {
            var one = await client.GetLotDispersionAsync(new() { Item = item, Lot = lot }, cancellation).ConfigureAwait(false);
            Write(settings, one, ShowLot);
            return one.Completeness.IsComplete ? ExitCodes.Done : ExitCodes.Incomplete;
        }

        var widest = await client.GetLotDispersionsAsync(settings.Item, limit: settings.Show, cancellation: cancellation).ConfigureAwait(false);
        Write(settings, widest, ShowLots);
        return widest.CountedAt is null ? ExitCodes.Incomplete : ExitCodes.Done;
    }

    private static string Of(long count) => count.ToString(CultureInfo.InvariantCulture);

    private void Write<T>(Settings settings, T answer, Action<T> show)
    {
        if (settings.Json)
        {
            Context.WriteJson(answer);
        }
        else
        {
            show(answer);
        }
    }

    private void ShowLot(LotDispersionAnswer answer)
    {
        if (ScopeCommand.Lacks(answer.Completeness) is { Length: > 0 } lacks)
        {
            Context.Show(lacks);
        }

        answer.Remarks.ToList().ForEach(r => Context.Show($"Note: {r}"));
        var lot = answer.Lot;
        Context.Show(string.Create(
            CultureInfo.InvariantCulture,
            $"{lot.Item} {lot.Lot}: named by {lot.Units} units, in {lot.FinishedUnits} finished units, {lot.Shipped} of them shipped to {lot.Consignees} consignees in {lot.Shipments} shipments. As of {Sentences.Time(answer.AsOf.ToLocalTime())}"));
        if (answer.Mixing is { } mixing)
        {
            Context.Show($"{mixing.Words} (counted {Sentences.Time(answer.MixingCountedAt?.ToLocalTime())})");
        }

        Tables.Write(Context, ["Place", "Finished units"], answer.Places.Select(p => new[] { p.Place, Of(p.Units) }));
        Tables.Write(Context, ["Consignee", "Finished units", "Shipments"], answer.Consignees.Select(c => new[] { c.Consignee, Of(c.Units), Of(c.Shipments) }));
        if (answer.ConsigneesMore > 0)
        {
            Context.Show(string.Create(CultureInfo.InvariantCulture, $"{answer.ConsigneesMore} MORE CONSIGNEES are not shown here."));
        }
    }

    private void ShowLots(LotDispersions answer)
    {
        answer.Remarks.ToList().ForEach(r => Context.Show($"Note: {r}"));
        answer.Items.ToList().ForEach(i => Context.Show($"{i.Item}: {i.Words}"));
        Tables.Write(
            Context,
            ["Item", "Lot", "Finished units", "Shipped", "Consignees", "Shipments", "Used from", "to"],
            answer.Lots.Select(l => new[] { l.Item, l.Lot, Of(l.FinishedUnits), Of(l.Shipped), Of(l.Consignees), Of(l.Shipments), Sentences.Time(l.UsedFrom.ToLocalTime()), Sentences.Time(l.UsedTo.ToLocalTime()) }));
        if (answer.After is not null)
        {
            Context.Show("MORE LOTS are not shown here. Say --show NUMBER, at most 1000.");
        }
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandArgument(0, "[ITEM]")]
        [Description("Only lots of this item.")]
        public string? Item { get; init; }

        [CommandArgument(1, "[LOT]")]
        [Description("This lot, counted now; else the widest, from counts that are taken in the background.")]
        public string? Lot { get; init; }

        [CommandOption("--show <NUMBER>")]
        [Description("The most lots to list.")]
        [DefaultValue(50)]
        public int Show { get; init; } = 50;
    }
}
