using System.ComponentModel;
using System.Globalization;
using Spectre.Console.Cli;
using Traceability.Client.Outbox;

namespace Traceability.Terminal.Commands;

/// <summary>What waits to be acknowledged, or was refused.</summary>
internal abstract class ListCommand(TerminalContext context, OutboxState state) : TerminalCommand<ListCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        var (view, entries) = (outbox.View(), await outbox.ListAsync(state, settings.Limit).ConfigureAwait(false));
        if (settings.Json)
        {
            Context.WriteJson(new { view, entries });
            return ExitCodes.Done;
        }

        Context.Show(Summary(view));
        foreach (var entry in entries)
        {
            Context.Show($"{entry.FactId} {entry.Type} {entry.Lane}  taken in {Sentences.Time(entry.EnqueuedAt)}");
            if (entry.Problem is { } problem)
            {
                Context.Show(Sentences.Of(problem));
            }
        }

        return ExitCodes.Done;
    }

    internal static string Summary(OutboxView view)
    {
        var oldest = view.OldestWaiting is { } age ? $", the oldest for {Sentences.Ago(age)}" : string.Empty;
        var jump = view.ClockJumps.Count == 0 ? string.Empty : string.Create(CultureInfo.InvariantCulture, $" The clock of this machine was set {view.ClockJumps.Count} times, last noticed {Sentences.Time(view.ClockJumps[^1].NoticedAt)}.");
        return string.Create(CultureInfo.InvariantCulture, $"{view.Waiting} wait{oldest}; {view.Refused} refused; {view.Sent} sent are kept.{jump}");
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandOption("--limit <COUNT>")]
        [Description("The most to list.")]
        [DefaultValue(100)]
        public int Limit { get; init; } = 100;
    }
}

/// <summary>What waits to be acknowledged.</summary>
internal sealed class PendingCommand(TerminalContext context) : ListCommand(context, OutboxState.Waiting);

/// <summary>What was refused, and why.</summary>
internal sealed class RefusedCommand(TerminalContext context) : ListCommand(context, OutboxState.Refused);

/// <summary>Sends what waits.</summary>
internal sealed class SendCommand(TerminalContext context) : TerminalCommand<TerminalSettings>(context)
{
    protected override async Task<int> RunAsync(TerminalSettings settings, CancellationToken cancellation)
    {
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        return await SendAsync(outbox, settings, null, cancellation).ConfigureAwait(false);
    }
}

/// <summary>Sends what waits and whatever a script stores meanwhile, and shows how it stands, until it is stopped.</summary>
internal sealed class WatchCommand(TerminalContext context) : TerminalCommand<WatchCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        using var client = Context.Client(settings, triesMax: 1);
        using var over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var sending = new OutboxSender(outbox, client, new() { OnSettled = Tell }).RunAsync(over.Token);
        var last = string.Empty;
        while (!cancellation.IsCancellationRequested && !(settings.UntilEmpty && outbox.View().Waiting == 0))
        {
            var view = outbox.View();
            var line = ListCommand.Summary(view) + (view.Trouble is { } t ? $" {t.Message} Next try {Sentences.Time(t.NextTryAt)}." : string.Empty);
            if (!string.Equals(line, last, StringComparison.Ordinal))
            {
                Context.Show(line);
                last = line;
            }

            await Task.WhenAny(Task.Delay(settings.EveryMs, cancellation), sending).ConfigureAwait(false);
            if (sending.IsCompleted)
            {
                break;
            }
        }

        await over.CancelAsync().ConfigureAwait(false);
        await sending.ConfigureAwait(false);
        return outbox.View() is { Waiting: 0 } ? ExitCodes.Done : ExitCodes.StoredOnly;
    }

    private void Tell(OutboxEntry entry) => Context.Show(
        entry.State == OutboxState.Sent ? $"recorded  {entry.FactId} {entry.Type} {entry.Lane}" : $"REFUSED   {entry.FactId} {entry.Type} {entry.Lane}\n{Sentences.Of(entry.Problem!)}");

    internal sealed class Settings : TerminalSettings
    {
        [CommandOption("--every <MILLISECONDS>")]
        [Description("How often to look.")]
        [DefaultValue(1000)]
        public int EveryMs { get; init; } = 1000;

        [CommandOption("--until-empty")]
        [Description("End when nothing waits any more.")]
        public bool UntilEmpty { get; init; }
    }
}

/// <summary>Finds the refused fact that a person means.</summary>
internal static class RefusedIds
{
    public static async Task<Guid> FindAsync(FactOutbox outbox, string text)
    {
        var refused = await outbox.ListAsync(OutboxState.Refused, int.MaxValue).ConfigureAwait(false);
        return refused.Where(e => e.FactId.ToString().StartsWith(text, StringComparison.OrdinalIgnoreCase)).ToList() switch
        {
            [var only] => only.FactId,
            [] => throw new NotUnderstoodException($"No refused fact begins with {text}. List them with: refused"),
            _ => throw new NotUnderstoodException($"Several refused facts begin with {text}. Give more of the id."),
        };
    }
}

/// <summary>Sends a refused fact again as it is.</summary>
internal sealed class AgainCommand(TerminalContext context) : TerminalCommand<DecisionSettings>(context)
{
    protected override async Task<int> RunAsync(DecisionSettings settings, CancellationToken cancellation)
    {
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        var entry = await outbox.SendAgainAsync(await RefusedIds.FindAsync(outbox, settings.Id).ConfigureAwait(false), settings.Decider(Context)).ConfigureAwait(false);
        return await SendAsync(outbox, settings, [entry], cancellation).ConfigureAwait(false);
    }
}

/// <summary>Sends a refused fact anew, with another content and under a new id.</summary>
internal sealed class AmendCommand(TerminalContext context) : TerminalCommand<AmendCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        var text = await Context.ReadAsync(settings.File, cancellation).ConfigureAwait(false);
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        var id = await RefusedIds.FindAsync(outbox, settings.Id).ConfigureAwait(false);
        var entry = await outbox.AmendAsync(id, text, settings.Decider(Context), settings.Reason).ConfigureAwait(false);
        return await SendAsync(outbox, settings, [entry], cancellation).ConfigureAwait(false);
    }

    internal sealed class Settings : DecisionSettings
    {
        [CommandArgument(1, "[FILE]")]
        [Description("The whole fact as it should be. Without it, from standard input.")]
        public string? File { get; init; }

        [CommandOption("--reason <TEXT>", isRequired: true)]
        public required string Reason { get; init; }
    }
}

/// <summary>Gives a refused fact up.</summary>
internal sealed class DropCommand(TerminalContext context) : TerminalCommand<DropCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        var id = await RefusedIds.FindAsync(outbox, settings.Id).ConfigureAwait(false);
        var entry = await outbox.DropAsync(id, settings.Decider(Context), settings.Reason).ConfigureAwait(false);
        if (settings.Json)
        {
            Context.WriteJson(entry);
        }
        else
        {
            Context.Show($"dropped   {entry.FactId} by {entry.DecidedBy}: {entry.Reason}");
        }

        return ExitCodes.Done;
    }

    internal sealed class Settings : DecisionSettings
    {
        [CommandOption("--reason <TEXT>", isRequired: true)]
        public required string Reason { get; init; }
    }
}

/// <summary>A person has seen that the outbox was damaged.</summary>
internal sealed class DamageSeenCommand(TerminalContext context) : TerminalCommand<DamageSeenCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        await using var outbox = await Context.OutboxAsync(settings).ConfigureAwait(false);
        await outbox.AcknowledgeDamageAsync(settings.By).ConfigureAwait(false);
        return ExitCodes.Done;
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandOption("--by <CODE>", isRequired: true)]
        public required string By { get; init; }
    }
}
