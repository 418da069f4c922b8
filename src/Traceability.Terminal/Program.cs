using Traceability.Terminal;

using var stopping = new CancellationTokenSource();
Console.CancelKeyPress += (_, e) =>
{
    e.Cancel = true;
    stopping.Cancel();
};
var context = new TerminalContext(Console.In, Console.Out, Console.Error, Environment.GetEnvironmentVariable, TimeProvider.System);
return await TerminalApp.RunAsync(args, context, stopping.Token).ConfigureAwait(false);
