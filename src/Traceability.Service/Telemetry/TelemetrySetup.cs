using OpenTelemetry.Exporter;
using OpenTelemetry.Logs;
using OpenTelemetry.Metrics;
using OpenTelemetry.Resources;
using OpenTelemetry.Trace;
using Traceability.Service.Security;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Telemetry;

/// <summary>OpenTelemetry: metrics at /metrics always; traces, metrics and logs to a collector where one is configured.</summary>
/// <remarks>
/// The exporter behind /metrics is a beta of OpenTelemetry's: its format is Prometheus' text format, but its options may
/// change with a new version. It asks for a key with the policy read, on loopback too: behind a proxy on the same machine
/// every request comes from loopback.
/// </remarks>
internal static class TelemetrySetup
{
    private const string Npgsql = "Npgsql";

    /// <summary>Adds it; traces cost something on each request, so they are made only where they go somewhere.</summary>
    public static void AddTelemetry(this WebApplicationBuilder builder)
    {
        builder.Services.AddSingleton<Readiness>();
        builder.Services.AddSingleton<WriteGate>();
        CommonAlarms.Add(builder.Services);
        builder.Services.AddSingleton<IAlarmSource, DurabilityAlarm>();
        builder.Services.AddSingleton<IAlarmSource, SchemaAlarm>();
        builder.Services.AddSingleton<AlarmWatch>();
        builder.Services.AddHostedService(s => s.GetRequiredService<AlarmWatch>());
        builder.Services.AddOptions<TelemetryOptions>().BindConfiguration(TelemetryOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        var options = builder.Configuration.GetSection(TelemetryOptions.SectionName).Get<TelemetryOptions>() ?? new();
        var sends = options.OtlpEndpoint is not null || !string.IsNullOrWhiteSpace(builder.Configuration[TelemetryOptions.StandardVariable]);
        var version = typeof(TelemetrySetup).Assembly.GetName().Version?.ToString(3);
        var telemetry = builder.Services.AddOpenTelemetry().ConfigureResource(r => r.AddService("traceability", serviceVersion: version));
        telemetry.WithMetrics(metrics =>
        {
            metrics.AddMeter(ServiceTelemetry.Name, Npgsql).AddAspNetCoreInstrumentation().AddRuntimeInstrumentation().AddPrometheusExporter();
            if (sends)
            {
                metrics.AddOtlpExporter(e => Configure(e, options));
            }
        });
        if (!sends)
        {
            return;
        }

        telemetry.WithTracing(traces => traces
            .SetSampler(new ParentBasedSampler(new TraceIdRatioBasedSampler(options.TracedShare)))
            .AddSource(ServiceTelemetry.Name, Npgsql)
            .AddAspNetCoreInstrumentation()
            .AddOtlpExporter(e => Configure(e, options)));
        builder.Logging.AddOpenTelemetry(logs => logs.IncludeScopes = true);
        telemetry.WithLogging(logs => logs.AddOtlpExporter(e => Configure(e, options)));
    }

    /// <summary>Maps /metrics and /health.</summary>
    public static void MapTelemetry(this IEndpointRouteBuilder root)
    {
        root.MapPrometheusScrapingEndpoint("/metrics").RequireAuthorization(Policies.Read).ExcludeFromDescription();
        HealthEndpoints.Map(root.MapGroup("/health").WithTags("Health").AllowAnonymous());
    }

    /// <summary>Refuses what would be recorded while nothing may be acknowledged.</summary>
    public static void UseWriteGate(this WebApplication app)
    {
        var gate = app.Services.GetRequiredService<WriteGate>();
        app.Use(next => context => gate.PassAsync(context, next));
    }

    private static void Configure(OtlpExporterOptions exporter, TelemetryOptions options)
    {
        if (options.OtlpEndpoint is { } endpoint)
        {
            exporter.Endpoint = endpoint;
        }
    }
}
