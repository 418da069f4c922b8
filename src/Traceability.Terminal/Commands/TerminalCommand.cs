using Spectre.Console.Cli;
using Traceability.Client;
using Traceability.Client.Outbox;
using Traceability.Contracts;

namespace Traceability.Terminal.Commands;

/// <summary>A command; what goes wrong in the ways that are known ends with its exit code and a sentence.</summary>
/// <typeparam name="T">What it takes.</typeparam>
internal abstract class TerminalCommand<T>(TerminalContext context) : AsyncCommand<T>
    where T : TerminalSettings
{
    protected TerminalContext Context { get; } = context;

    protected sealed override async Task<int> ExecuteAsync(CommandContext context, T settings, CancellationToken cancellationToken)
    {
        try
        {
            return await RunAsync(settings, cancellationToken).ConfigureAwait(false);
        }
        catch (Exception e) when (e is NotUnderstoodException or FormatException)
        {
            return Fail(settings, ExitCodes.NotUnderstood, e.Message, null);
        }
        catch (TraceabilityProblemException e)
        {
            return Fail(settings, ExitCodes.Refused, Sentences.Of(e.Problem), e.Problem);
        }
        catch (TraceabilityUnreachableException e)
        {
            return Fail(settings, ExitCodes.Unreachable, e.Message, null);
        }
        catch (OutboxException e)
        {
            return Fail(settings, ExitCodes.NotStored, e.Message, null);
        }
        catch (OperationCanceledException) when (cancellationToken.IsCancellationRequested)
        {
            return ExitCodes.Done;
        }
    }

    protected abstract Task<int> RunAsync(T settings, CancellationToken cancellation);

    /// <summary>Sends what waits and tells what became of it.</summary>
    /// <param name="outbox">The outbox.</param>
    /// <param name="settings">The command's settings.</param>
    /// <param name="mine">The facts that this command stored; null: it only sends.</param>
    /// <param name="cancellation">Ends it; what was stored stays.</param>
    protected async Task<int> SendAsync(FactOutbox outbox, TerminalSettings settings, IReadOnlyList<OutboxEntry>? mine, CancellationToken cancellation)
    {
        SendReport report;
        List<OutboxEntry> settled = [];
        using (var client = Context.Client(settings, triesMax: 2))
        {
            report = await new OutboxSender(outbox, client, new() { OnSettled = settled.Add }).SendPendingAsync(cancellation).ConfigureAwait(false);
        }

        var entries = settled;
        if (mine is not null)
        {
            entries = [];
            foreach (var entry in mine)
            {
                entries.Add(await outbox.FindAsync(entry.FactId).ConfigureAwait(false) ?? entry);
            }
        }

        Show(settings, entries, report);
        return Judge(entries, report, mine is null);
    }

    protected int Fail(TerminalSettings settings, int code, string message, Problem? problem)
    {
        if (settings.Json)
        {
            Context.WriteJson(new { exitCode = code, message, problem });
        }

        Context.Say(message);
        return code;
    }

    private static int Judge(IReadOnlyList<OutboxEntry> entries, SendReport report, bool all) =>
        entries.Any(e => e.State == OutboxState.Refused) ? ExitCodes.Refused
        : (all && report.Waiting > 0) || entries.Any(e => e.State == OutboxState.Waiting) ? ExitCodes.StoredOnly
        : ExitCodes.Done;

    private void Show(TerminalSettings settings, List<OutboxEntry> entries, SendReport report)
    {
        if (settings.Json)
        {
            Context.WriteJson(new { facts = entries, report.Sent, report.Refused, report.Waiting, report.Trouble });
            return;
        }

        foreach (var entry in entries)
        {
            Context.Show(entry.State switch
            {
                OutboxState.Sent => $"recorded  {entry.FactId} {entry.Type} {entry.Lane}{string.Concat((entry.Receipt?.Findings ?? []).Select(f => "\n  " + Sentences.Of(f)))}",
                OutboxState.Refused => $"REFUSED   {entry.FactId} {entry.Type} {entry.Lane}\n{Sentences.Of(entry.Problem!)}",
                _ => $"stored on this machine, not yet at the service: {entry.FactId} {entry.Type} {entry.Lane}",
            });
        }

        if (report.Trouble is { } trouble)
        {
            Context.Say($"{trouble.Message} {report.Waiting} facts wait here and are kept.");
        }
    }
}
