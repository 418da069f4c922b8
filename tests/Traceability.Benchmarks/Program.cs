using Traceability.Benchmarks.Figures;
using Traceability.Benchmarks.Servers;

return args switch
{
    [BareServer.Name, var connection, var url] => await BareServer.RunAsync(connection, url),
    [ServiceServer.Name, .. var rest] => await ServiceServer.RunAsync(rest),
    ["figures", .. var rest] => await FiguresCommand.RunAsync(rest),
    _ => FiguresCommand.Explain(),
};
