using Traceability.Benchmarks.Figures;
using Traceability.Benchmarks.Growth;
using Traceability.Benchmarks.Scopes;
using Traceability.Benchmarks.Servers;
using Traceability.Benchmarks.Soak;

if (args is [BareServer.Name or ServiceServer.Name, ..])
{
    // A server ends with the process that started it, however that ends: then its input does.
    _ = Task.Run(() =>
    {
        while (Console.In.Read() >= 0)
        {
        }

        Environment.Exit(0);
    });
}

return args switch
{
    [BareServer.Name, var connection, var url] => await BareServer.RunAsync(connection, url),
    [ServiceServer.Name, .. var rest] => await ServiceServer.RunAsync(rest),
    ["soak", .. var rest] => await SoakCommand.RunAsync(rest),
    ["growth", .. var rest] => await GrowthCommand.RunAsync(rest),
    ["scopes", .. var rest] => await ScopesCommand.RunAsync(rest),
    ["figures", .. var rest] => await FiguresCommand.RunAsync(rest),
    _ => FiguresCommand.Explain(),
};
