using Spectre.Console.Cli;
using Traceability.Terminal.Commands;

namespace Traceability.Terminal;

/// <summary>The program: its commands and how they are found.</summary>
internal static class TerminalApp
{
    /// <summary>Runs one command.</summary>
    /// <param name="args">What was typed.</param>
    /// <param name="context">The outside.</param>
    /// <param name="cancellation">Ends it; what was stored stays.</param>
    /// <returns>One of <see cref="ExitCodes"/>.</returns>
    public static async Task<int> RunAsync(IReadOnlyList<string> args, TerminalContext context, CancellationToken cancellation)
    {
        var app = new CommandApp(new Registrar(context));
        app.Configure(Configure);
        app.Configure(c => c.ConfigureConsole(context.Screen));
        try
        {
            return await app.RunAsync(args, cancellation).ConfigureAwait(false);
        }
        catch (CommandAppException e)
        {
            context.Say(e.Message);
            context.Say("traceability-terminal --help lists the commands.");
            return ExitCodes.NotUnderstood;
        }
    }

    private static void Configure(IConfigurator config)
    {
        config.SetApplicationName("traceability-terminal");
        config.PropagateExceptions();
        config.UseStrictParsing();
        config.AddCommand<CompleteCommand>("complete").WithDescription("Record that a step was completed.")
            .WithExample("complete", "LAMP", "0001", "BOND", "--lot", "GLUE=G1", "--person", "P-1");
        config.AddCommand<RecordCommand>("record").WithDescription("Record facts given as JSON.").WithExample("record", "facts.ndjson");
        config.AddCommand<MayStartCommand>("may-start").WithDescription("Ask whether a unit may start a step here and now; cautions come first.")
            .WithExample("may-start", "LAMP", "0001", "CLOSE", "--tool", "SD-1=4");
        config.AddCommand<UnitCommand>("unit").WithDescription("Show one unit as it stands now.").WithExample("unit", "LAMP", "0001");
        config.AddCommand<CarriersCommand>("carriers").WithDescription("List the units that carry a lot, or may.").WithExample("carriers", "GLUE", "G1");
        config.AddCommand<ScopeCommand>("scope").WithDescription("Ask which units a suspect reaches or may have reached; what stands against taking the answer as complete comes first.")
            .WithExample("scope", "--lot", "GLUE=G1", "--csv", "g1.csv").WithExample("scope", "question.json");
        config.AddCommand<ContainmentsCommand>("containments").WithDescription("List the containments, newest first.");
        config.AddCommand<ContainmentCommand>("containment").WithDescription("Show one containment; keep its report as a file.")
            .WithExample("containment", "C-2026-03", "--members", "open").WithExample("containment", "C-2026-03", "--report", "c-2026-03.pdf");
        config.AddCommand<DispersionCommand>("dispersion").WithDescription("Tell how widely lots are spread over finished units: one lot, or the widest.")
            .WithExample("dispersion", "GLUE", "G1").WithExample("dispersion", "GLUE");
        config.AddCommand<PendingCommand>("pending").WithDescription("List what waits on this machine to be acknowledged.");
        config.AddCommand<RefusedCommand>("refused").WithDescription("List what the service refused, and why.");
        config.AddCommand<SendCommand>("send").WithDescription("Send what waits, once.");
        config.AddCommand<WatchCommand>("watch").WithDescription("Send what waits and show how it stands, until stopped.");
        config.AddCommand<AgainCommand>("again").WithDescription("Send a refused fact again as it is.");
        config.AddCommand<AmendCommand>("amend").WithDescription("Send a refused fact with another content, under a new id.");
        config.AddCommand<DropCommand>("drop").WithDescription("Give a refused fact up, with a reason.");
        config.AddCommand<ClockCommand>("clock").WithDescription("Show how far this machine's clock is off the service's.");
        config.AddCommand<DamageSeenCommand>("damage-seen").WithDescription("Acknowledge that the outbox's file was found damaged.");
    }

    // Commands get the context and nothing else; what the library asks for beside is its own.
    private sealed class Registrar(TerminalContext context) : ITypeRegistrar, ITypeResolver
    {
        private readonly Dictionary<Type, List<Func<object>>> made = new() { [typeof(TerminalContext)] = [() => context] };

        public ITypeResolver Build() => this;

        public void Register(Type service, Type implementation) => RegisterLazy(service, () => Make(implementation));

        public void RegisterInstance(Type service, object implementation) => RegisterLazy(service, () => implementation);

        public void RegisterLazy(Type service, Func<object> factory)
        {
            made.TryAdd(service, []);
            made[service].Add(factory);
        }

        public object? Resolve(Type? type)
        {
            if (type is null)
            {
                return null;
            }

            if (made.TryGetValue(type, out var makers))
            {
                return makers[^1]();
            }

            // The library asks for all implementations of what it lets a program replace.
            if (type.IsGenericType && type.GetGenericTypeDefinition() == typeof(IEnumerable<>))
            {
                var element = type.GenericTypeArguments[0];
                var all = made.TryGetValue(element, out var each) ? each.ConvertAll(m => m()) : [];
                var array = Array.CreateInstance(element, all.Count);
                for (var i = 0; i < all.Count; i++)
                {
                    array.SetValue(all[i], i);
                }

                return array;
            }

            return type.IsAbstract || type.IsInterface ? null : Make(type);
        }

        private object Make(Type type) =>
            typeof(ICommand).IsAssignableFrom(type) && type.Assembly == typeof(TerminalApp).Assembly
                ? Activator.CreateInstance(type, context)!
                : Activator.CreateInstance(type, nonPublic: true)!;
    }
}
